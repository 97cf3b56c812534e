# Writing it down: the page Write, and what was written.

write-title = Write it down
write-done = Written down.
write-undo = Take it back
write-undone = Taken back.

# What is written again and again. `words` is what the person called a meal.
write-again-heading = Written often
write-again-help = One tap writes it down as of now, and it can be taken back. This is what was written before, not what to take.
write-again-meal = { $words }, { $grams } g
write-again-unnamed = a meal
write-again-drink = { $ml } ml of water

# What is written down. Beginning a heading, a link or an entry that waits.
write-kinds = What to write down
write-kind = { $kind ->
    [blood] Blood check
    [dose] Dose
    [meal] Meal
    [activity] Activity
    [drink] Drink
    [sleep] Sleep
    [symptom] Symptom
    [illness] Illness
    [ketones] Ketones
    [medicine] Medicine
    [temperature] Temperature
    [tag] Kind of day
    [device] Device
    [artefact] Not to be believed
   *[note] Note
}
write-kind-sensor = Sensor

# The form.
write-blood-number = The meter showed, { $unit }
write-dose-number = Units
write-meal-number = Carbohydrate, grams, where you know
write-drink-number = Millilitres, where you know
write-ketones-number = Blood ketones, mmol/L
write-temperature-number = Degrees Celsius around you
write-insulin = Insulin
# One of a list.
write-insulin-kind = { $insulin ->
    [rapid] rapid
    [short-acting] short-acting
    [intermediate] intermediate
    [long-acting] long-acting
    [premixed] premixed
   *[insulin] insulin
}
write-meal-words = What it was
write-activity-words = What you did
write-symptom-words = What you felt
write-medicine-words = Which, and how much
write-tag-words = A word of your own: on watch, at home
write-note-words = In words
write-words = A note, if you like
write-at = When; now where left empty
write-began = Began; now where left empty
write-ended = Ended, where it has
write-sleep-began = Fell asleep
write-sleep-ended = Woke
write-tag-began = From; now where left empty
write-tag-ended = Until; that day alone where left empty
write-laboratory = A laboratory's, not a meter's
write-submit = Write it down
# Behind a number that was typed and not yet sent.
write-unit-dose = units
write-unit-meal = g of carbohydrate

# What was written lately.
write-lately-heading = Lately
write-lately-none = Nothing was written down lately.
write-from-file = from a file
write-correct = Correct
write-strike = Strike out

# Correcting one.
write-correct-title = Correct an entry
write-correct-help = What stood there before stays in the book, hidden, and the correction can be taken back.
write-correct-submit = Correct it
write-correct-leave = Leave it as it is

# A number hard to believe in the book's unit. `said` is a value with its unit, `number` as it was typed.
write-unit-title = Which unit?
write-unit-doubt = { $said } is hard to believe.
write-unit-nothing = Your book is in { $unit }. Nothing is written down yet.
write-unit-was = It was { $number } { $unit }
write-unit-neither = Neither: back to the form

write-unknown-kind = '{ $what }' is nothing that is written down here
write-unknown-entry = there is no such entry among those written lately
write-elsewhere = that is corrected where it was written

# An entry in a line of a list: what it is, in small letters; a length of time, a value or the person's words follow.
write-said-blood = blood check { $glucose }
write-said-laboratory = laboratory { $glucose }
write-said-dose = { $insulin ->
    [rapid] { $units } rapid
    [short-acting] { $units } short-acting
    [intermediate] { $units } intermediate
    [long-acting] { $units } long-acting
    [premixed] { $units } premixed
   *[insulin] { $units } insulin
}
write-said-carbohydrate = { $grams } g of carbohydrate
write-said-meal = meal
write-said-mark = { $kind ->
    [activity] activity
    [drink] drink
    [sleep] sleep
    [symptom] symptom
    [illness] illness
    [ketones] ketones
    [medicine] medicine
    [temperature] temperature
    [tag] kind of day
    [device] a device's report
    [artefact] not to be believed
   *[note] note
}
write-said-entry = an entry

# Away from the app: a page that a phone keeps.
write-away-title = Not connected
write-away-answer = The app cannot be reached from here, and nothing on this page is live.
write-away-lead = What you write down waits on this device, with the time you write it, and is sent when the app is there again.
# An address follows.
write-away-asked = What you asked for is not kept on this device:
write-away-reached = The app is there again: [go on there].
write-away-no-script = Entries can wait only where scripts may run. Write on paper until the app is there again.

# Entries that wait on a device. A script says these and fills in what it knows; `entries` is 1, or a place it fills in.
write-queue-send = Send them now
write-queue-waits = { $entries ->
    [one] { $entries } entry waits to be sent
   *[other] { $entries } entries wait to be sent
}
write-queue-stuck = { $entries ->
    [one] { $entries } entry needs you
   *[other] { $entries } entries need you
}
write-queue-tried = { $why } Tried at { $clock }; the entries stay on this device.
write-queue-unreached = The app cannot be reached.
write-queue-unpaired = The app does not know this device any more: pair it again.
write-queue-busy = The app asked to wait a little.
write-queue-answered = The app answered { $status }.
write-queue-was = It was { $unit }
write-queue-this-book = Send to this book
write-queue-again = Try again
write-queue-which = Not written: { $said } is hard to believe. Which unit was it?
write-queue-another-book = Not written: it was meant for another book than the one that is open.
write-queue-refused = Not written. { $why }
