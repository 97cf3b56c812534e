# The first run and bringing a file in: the pages of an empty book, of a file, and Imports.

# An empty book.
bring-welcome-title = Begin
bring-welcome-heading = An empty book
bring-welcome-answer = Give it a file your devices exported, and it will tell you, calmly and with its margin, what really happened.
bring-ways = Or begin otherwise
bring-way-write = [Write something down by hand]: a blood check, a dose, a meal. The file can come later; nothing is asked twice.
bring-way-wear = [Write down the sensor you wear], and when the next one goes on is planned from it.
bring-way-settings = [Set your unit, targets and time zone] first.
bring-way-settings-now = It shows { $unit } and lives by the clock of { $zone } now.
bring-way-invented = Look at an invented recording
bring-way-invented-help = Half a year of a ship's engineer who does not exist, to see every page filled. Your book stays empty.
bring-steps = What happens with a file
bring-step-look = The file is looked at, whoever made it: which column holds the time, which the glucose, in which unit.
bring-step-see = You see how it was understood, with its first rows and days. Where two readings are possible you are asked, one question at a time.
bring-step-write = Only then it is written into your book: one file, on this machine. It can be taken back whole.
bring-step-account = You get the account: time in range, the usual day, every low and high, and how sure each figure is.
bring-not = What it is not
bring-not-said = Not a medical device, not an alarm, and it never names a dose. It shows what was logged and what followed. When symptoms and the sensor disagree, a blood check decides.

# Handing a file over.
bring-drop = Drop a file here, or choose one: a table your devices exported, as text or spreadsheet, also inside .zip or .gz.
bring-file = File
bring-look = Look at it
bring-drop-help = Nothing is written until you have seen how it is understood.
bring-none-came = no file came; choose one and try again
bring-none-chosen = no file was chosen; choose one and try again
bring-too-large = the file is larger than 256 MB; bring it in with `interstice import FILE`, which reads it in a stream
bring-not-whole = the file did not arrive whole; try again
bring-gone = this file is no longer waiting; hand it over again

# How it is understood. `name` and `file` are names of files.
bring-title = A file
bring-heading = How { $name } is understood
bring-days-heading = Its first days
# `zone` is the name of a time zone, or the part below.
bring-days-caption = Glucose in { $unit } by the clock of { $zone }. Do meals and nights stand where they were?
bring-days-zone-of-file = the file
bring-days-summary = The days as a table
bring-days-method = How readings become a trace
bring-question = One thing only you can say.
bring-question-go-on = Go on
bring-question-more = { $more ->
    [one] { $more } more after this
   *[other] { $more } more after this
}
bring-ready = This file can be read. See below whether it is read rightly; then bring it in.
bring-in = Bring it in
bring-refused = This file cannot be used. Nothing was written.
bring-leave = Leave this file

# A table within the file. `place` says where it is.
bring-table-heading = Table at { $place }
bring-table-form = Form
bring-table-times = Times
bring-table-zone = Zone
bring-table-unit = Unit
bring-table-reads = Reads
bring-table-every = every { $interval }
bring-table-rows = The first rows, as they are read
bring-columns-heading = Its columns
bring-columns-column = Column
bring-columns-taken = Taken as
bring-columns-why = Why
bring-columns-some = Some of it
bring-column = column { $number }
# How sure it is what a column holds.
bring-sure = { $sure ->
    [sure] sure
    [fairly] fairly sure
   *[not] not sure
}
# What a column holds.
bring-role = { $role ->
    [date-time] date time
    [date] date
    [time-of-day] time of day
    [offset] offset
    [end] end
    [duration] duration
    [glucose] glucose
    [scan] scan
    [blood-glucose] blood glucose
    [unit] unit
    [kind] kind
    [value] value
    [rapid-insulin] rapid insulin
    [short-insulin] short insulin
    [intermediate-insulin] intermediate insulin
    [long-insulin] long insulin
    [mixed-insulin] mixed insulin
    [insulin] insulin
    [basal-rate] basal rate
    [intravenous-insulin] intravenous insulin
    [insulin-text] insulin text
    [insulin-kind] insulin kind
    [carbohydrate] carbohydrate
    [protein] protein
    [fat] fat
    [fibre] fibre
    [energy] energy
    [food-text] food text
    [ketones] ketones
    [activity] activity
    [sleep] sleep
    [medicine] medicine
    [symptom] symptom
    [sensor] sensor
    [site] site
    [flag] flag
    [subject] subject
    [local-time] local time
    [device] device
    [sensor-start] sensor start
    [sensor-end] sensor end
    [note] note
    [ignored] ignored
   *[other] { $name }
}

# Setting it right.
bring-correct = Something is read wrongly
bring-correct-unit = Glucose is in
bring-correct-dates = Dates are written
bring-dates = { $order ->
    [day-first] day first
    [month-first] month first
   *[year-first] year first
}
bring-correct-zone = Times were lived in the zone
# `column` is its heading, or the part below.
bring-correct-holds = { $column } holds
bring-correct-column = Column { $number }
bring-correct-as = { $role } (as understood)
bring-correct-as-understood = as understood
bring-correct-submit = Read it this way
bring-name-column = A column of it does hold something
bring-name-which = The column, by its heading or its number
bring-name-holds = It holds

# What became of it.
bring-receipt-title = Brought in
bring-receipt-heading = { $file } is in the book
bring-receipt-new = New: { $brought }.
bring-receipt-rows = Rows read
bring-receipt-there = Already there
bring-receipt-conflicting = Conflicting
bring-receipt-first-stands = (the value that came first stands)
bring-receipt-not-used = Not used
bring-receipt-account = See the account
bring-receipt-undo = Take it back

# Parts of a list. Each number stands twice: to choose the plural, and as it is shown.
bring-readings = { $n ->
    [one] { $shown } reading
   *[other] { $shown } readings
}
bring-scans = { $n ->
    [one] { $shown } scan
   *[other] { $shown } scans
}
bring-blood-checks = { $n ->
    [one] { $shown } blood check
   *[other] { $shown } blood checks
}
bring-doses = { $n ->
    [one] { $shown } dose
   *[other] { $shown } doses
}
bring-meals = { $n ->
    [one] { $shown } meal
   *[other] { $shown } meals
}
bring-others = { $n ->
    [one] { $shown } other entry
   *[other] { $shown } other entries
}
bring-nothing-new = nothing new

# The page Imports.
bring-imports-title = Imports
bring-imports-undone = Taken back: { $what }
bring-imports-fed = What feeds brought, day by day
bring-imports-another = Bring in another file
bring-imports-none = No file has been brought in yet.
bring-imports-file = File
bring-imports-when = When
bring-imports-brought = Brought
bring-imports-not-used = Rows not used
bring-imports-not-used-label = rows not used:
bring-imports-all-used = none
bring-imports-undo = Take back
bring-imports-undo-which = Take back { $file }

# Rows that could not be used.
bring-rows-title = Rows not used
bring-rows-heading = Rows that could not be used
bring-rows-back = Back to the imports
bring-rows-none = Every row was used.
bring-rows-row = Row
bring-rows-row-label = row
bring-rows-column = Column
bring-rows-text = Text
bring-rows-why = Why
bring-rows-of-file = file
