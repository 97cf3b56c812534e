# Pages that say why there is none.

# Headings.
error-nothing-here = Nothing here
error-no-link = No such link
error-no-sensor = No such sensor
error-request = That cannot be answered
error-refused = Refused
error-too-many = Too much at once
error-book = The book cannot be used
error-internal = Something went wrong

# Ways on.
error-to-sensors = The sensors there are
error-to-first = Back to the first page
error-to-form = Back to the form

# What is wrong: begins small and ends without a full stop, which the page adds.
error-said-nothing-here = there is nothing at this address
error-said-no-link = this link is not good: its time is over, it was ended, or it is not whole
error-said-too-many = too much was asked for at once, and this was not done; try again in { $seconds } s
# `why` is what went wrong.
error-said-internal = { $why }; please note what you did before it
error-pair-wrong = the code or the passphrase is not right
error-pair-no-code = no code is good now; ask for a new one where the app was started
error-invented-not-written = the invented recording is shown, and nothing is written in it; go back to your own book and write there
error-not-empty = your book has something in it, and that is what is shown; `interstice demo` shows the invented recording by itself
