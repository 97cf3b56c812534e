# What stands around every page.

shell-skip = Skip to the page
shell-pages = Pages
shell-tab-now = Now
shell-tab-days = Days
shell-tab-review = Review
shell-tab-trust = Trust
shell-tab-wear = Wear
shell-tab-visit = Visit
shell-tab-write = Write
shell-tab-imports = Imports
shell-tab-settings = Settings
shell-foot = Kept on this machine only. Not a medical device, not an alarm, and never a dose. [How everything is computed].
shell-foot-alone = Not a medical device, not an alarm, and never a dose.

# On a page of figures of an empty book; `appears` says what will be there: 'this moment appears'.
shell-nothing-yet = Nothing has been brought in yet.
shell-bring-in = [Bring in a file] and { $appears } here.

# Invented data.
shell-invented-label = Whose data this is
shell-invented = Invented data: a ship's engineer who does not exist.
shell-invented-in-place = Invented data: a ship's engineer who does not exist. Nothing of it is in your book.
shell-invented-back = Back to your own book

# Said by a script beside every table. `table` is its title.
shell-table = Table
shell-table-copy = Copy
shell-table-copy-which = Copy the table: { $table }
shell-table-copied = Copied.
shell-table-uncopied = Could not be copied.
shell-table-save = Download as CSV
shell-table-save-which = Download as CSV: { $table }
shell-table-wide = Table, wider than the page: { $table }
# Heads in a copy, where the table has none.
shell-table-name = Name
shell-table-value = Value
shell-table-column = Column { $number }
