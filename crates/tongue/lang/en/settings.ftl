# The page Settings, `interstice set`.

settings-language = Language
# Beside a language that is not yet whole.
settings-unfinished = { $language } (unfinished: what is not yet translated stands in English)

# The cautions before they were read.
settings-before-you-begin = Before you begin
settings-have-read = I have read this

# The page.
settings-title = Settings
settings-saved = Saved. Every page now goes by these.
settings-done = Written down.
settings-undo = Take it back
settings-save = Save
settings-devices = [Devices and links]: who may come in over the home network, and what shows one page.
settings-feeds = [Feeds]: what brings readings by itself, and how it is.

settings-unit = Glucose is shown in
settings-targets = Ranges and targets: the consensus for
settings-targets-for = { $group ->
    [adult] adults with type 1 or type 2 diabetes
    [older] older people and those at high risk
    [pregnancy] pregnancy with type 1 diabetes
   *[own] my own
}
# `high` is a value with its unit.
settings-targets-bounds = in range { $low } to { $high }
settings-own = my own, as agreed with my care team
# Fields of a form stand at [low], [high], [over] and [below].
settings-own-fields = in range [low] to [high] { $unit }, over [over] % of the time, below it under [below] %
settings-own-low = Lower end of my range
settings-own-high = Upper end of my range
settings-own-over = Time in range I aim for, percent
settings-own-below = Time below range I stay under, percent
settings-zone = Home time zone
settings-zone-help = By name, like Europe/Lisbon or Asia/Kolkata, or as an offset like +02:00. It says when your days begin.
settings-night = Your night
# Behind a clock time that is filled in.
settings-night-begins = it begins
settings-night-ends = it ends
settings-night-help = Nights in the account, and when you may be lying on a sensor, go by it where no sleep is written down. Left empty, usual hours stand.
settings-insulin = Your insulin acts for
# Behind a number that is filled in.
settings-insulin-rapid = hours, rapid-acting
settings-insulin-short = hours, short-acting
settings-insulin-help = Hours under the skin until a twentieth is left, as you have found it with your care team; 1 to 12. Left empty, published curves stand. How much of a dose is left, on Now, in swings and in a second look, goes by it; no dose is ever worked out from it.

settings-away-heading = Away from home
settings-away-help = While you live by another clock, days, nights and usual hours go by it. Tell it afterwards or ahead, in whole days there.
settings-away-line = { $zone }, { $from } to { $to }
settings-away-of-file = (told by a file)
settings-away-strike = Strike out
settings-away-strike-which = Strike out { $zone } from { $from }
settings-away-from = First day there
settings-away-to = Last day there
settings-away-zone = Time zone there
settings-away-submit = Write it down

settings-elsewhere-heading = Set elsewhere
settings-elsewhere-kind = [The kind of sensor you wear], as its instructions describe it, and by what the next is planned
settings-elsewhere-sheet = [Your name, visits, laboratory values and questions] for the sheet
settings-tags-none = No tags yet. A tag is a word of yours for a kind of day, written down on [Write]
settings-tags = Your tags: { $tags }.
# One of the list.
settings-tag = { $days ->
    [one] { $tag } ({ $days } day)
   *[other] { $tag } ({ $days } days)
}
settings-tags-compare = Compare days of one with the others

settings-kept-heading = Where it is kept
settings-kept-book = The book
settings-kept-not-yet = not there yet
settings-kept-brought = Brought in
settings-kept-files = { $files ->
    [one] { $files } file
   *[other] { $files } files
}
settings-kept-layouts = Layouts it knows
settings-layouts-none = none yet: a file of one of them is understood at once. One is forgotten when the files that taught it are taken back.
settings-layouts = { $layouts ->
    [one] { $layouts } layout: a file of one of them is understood at once. One is forgotten when the files that taught it are taken back.
   *[other] { $layouts } layouts: a file of one of them is understood at once. One is forgotten when the files that taught it are taken back.
}
settings-kept-help = It is one file. Everything in it can be taken out as tables, too, with `interstice export`.

settings-cautions = The cautions
settings-cautions-again = You have read them. Here they are again

# Backups: one line on Now, a part of this page.
settings-backup-never = This book has no backup yet: [how to make one].
settings-backup-old = { $days ->
    [one] The last backup of this book is { $days } day old, and it was written to since: [how to make one].
   *[other] The last backup of this book is { $days } days old, and it was written to since: [how to make one].
}
settings-backup-heading = Backups
settings-backup-last = The last one
settings-backup-none = none yet
settings-backup-by-itself = By itself
settings-backup-by-hand = no
# A folder follows.
settings-backup-every = { $hours ->
    [one] every { $hours } hour into
   *[other] every { $hours } hours into
}
settings-backup-next = The next one
settings-backup-try = The last try
settings-backup-failed = { $when } failed: { $why }
settings-backup-help = A backup is one file with the whole book in it, encrypted with a passphrase of yours, read back and held against this book before it counts. In a terminal: `interstice backup FILE`, or by itself with `interstice backup-set --folder DIR`; `interstice restore FILE` brings it back. Keep backups on another disk, and the passphrase where you find it without this machine.

# What was filled in and cannot be.
settings-unknown-language = '{ $code }' is no language of this app; choose one of the list
settings-unknown-targets = that is not a group with consensus targets; choose one of the list
settings-own-wrong = targets of your own need two percentages from 1 to 99, together at most 100: the time in range that you aim for, and the time below that you stay under
settings-away-gone = this stretch is no longer in the book
