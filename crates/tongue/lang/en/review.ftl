# What really happened: `interstice review`, the Review page.

review-title = Review
review-title-window = Review, { $window }
review-empty = the account appears

# `days` is a number with its word.
review-window = { $days }, { $from } to { $to }
review-window-day = { $days }, { $day }

review-answer-none = No account can be given: { $reason }.
review-no-readings = there are no readings in this window
# Shares of time, with their sign.
review-answer-early = Not enough yet for an average day: of the time measured, { $within } was in range, { $below } below and { $above } above.
# Lengths of time; `below` and `above` may be 'no time'.
review-answer = An average day had { $within } in range, { $below } below and { $above } above.
review-no-time = no time
# Beside a title, or after a colon.
review-early = not enough yet
review-early-because = not enough yet: { $reason }
review-no-usual-day = { $most ->
    [one] Not enough yet to draw one: a clock time needs readings of { $need } days, and has those of { $most } day at most.
   *[other] Not enough yet to draw one: a clock time needs readings of { $need } days, and has those of { $most } days at most.
}
# `over_stands` and `under_stands` are one of review-met, review-unsure, review-missed and review-early.
review-targets = In range { $within }, target over { $over } %: { $over_stands }. Below range { $below }, target under { $under } %: { $under_stands }. Targets: { $group }, in range { $low } to { $high }.
review-group-adult = adult
review-group-older = older or at high risk
review-group-pregnancy = pregnancy
review-group-own = own

# `with` is how many of the days have readings. The beginning of a sentence that goes on in review-enough and those after it.
review-cover = { $days ->
    [one] Readings cover { $percent } % of the time, on { $with } of { $days } day
   *[other] Readings cover { $percent } % of the time, on { $with } of { $days } days
}
review-cover-readings = { $readings ->
    [one] { $days ->
        [one] There is { $readings } reading, on { $with } of { $days } day
       *[other] There is { $readings } reading, on { $with } of { $days } days
    }
   *[other] { $days ->
        [one] There are { $readings } readings, on { $with } of { $days } day
       *[other] There are { $readings } readings, on { $with } of { $days } days
    }
}
review-enough = { $cover }: enough for these figures.
review-not-enough = { $cover }. Not enough to call it usual.
review-not-enough-because = { $cover }. Not enough to call it usual: { $reason }.

review-episode-kind = { $kind ->
    [low] { $lasting ->
        [yes] Low, level { $level }, lasting
       *[no] Low, level { $level }
    }
   *[high] { $lasting ->
        [yes] High, level { $level }, lasting
       *[no] High, level { $level }
    }
}
review-at-least = at least { $length }
# Something logged near an episode, and how long before or after: '4 units of rapid insulin, 2 h 10 min'.
review-near = { $what }, { $away }
review-near-text = { $what } ({ $text }), { $away }
review-near-insulin = { $kind ->
    [rapid] { $units } of rapid insulin
    [long] { $units } of long insulin
   *[other] { $units } of insulin
}
review-near-insulin-untold = { $kind ->
    [rapid] rapid insulin
    [long] long insulin
   *[other] insulin
}
review-near-carbohydrate = { $grams } g carbohydrate
review-near-eaten = something eaten
review-near-activity = activity
review-near-check = blood check { $glucose }
review-near-check-untold = blood check
# `lows` and `highs` are numbers with their word, as in the three after it.
review-lows-and-highs = { $lows } and { $highs }
review-episodes-none = { $kind ->
    [low] no lows
   *[high] no highs
}
review-episodes = { $kind ->
    [low] { $count ->
        [one] { $count } low
       *[other] { $count } lows
    }
   *[high] { $count ->
        [one] { $count } high
       *[other] { $count } highs
    }
}
review-episodes-serious = { $kind ->
    [low] { $count ->
        [one] { $count } low ({ $serious } of level 2)
       *[other] { $count } lows ({ $serious } of level 2)
    }
   *[high] { $count ->
        [one] { $count } high ({ $serious } of level 2)
       *[other] { $count } highs ({ $serious } of level 2)
    }
}
review-there-were = There were { $counted }.

review-trace-unnamed = unnamed sensor
review-trace-by-hand = scanned by hand
review-trace-every = every { $interval }
review-trace-unknown = interval unknown

# How a figure stands to its target: after a colon, or after the sentence that names it.
review-met = met
review-unsure = too close to call
review-missed = not met
review-unsure-short = unsure
review-early-short = not yet
# `time` is that share of a day.
review-target-less = less than { $bound } % ({ $time })
review-target-more = more than { $bound } % ({ $time })
# The rows of the table of ranges; those in small letters are parts of the one they stand under.
review-above-all = Above range in all
review-above-all-short = Above in all
review-very-high = very high
review-high = high
review-in-range = In range
review-below-all = Below range in all
review-below-all-short = Below in all
review-low = low
review-very-low = very low

# What was left out: parts of a list.
review-left-possible = { $count ->
    [one] { $count } possible pressure low
   *[other] { $count } possible pressure lows
}
review-left-said = { $count ->
    [one] { $count } low you said was pressure
   *[other] { $count } lows you said was pressure
}
review-left-marked = { $count ->
    [one] { $count } stretch you marked as not to be believed
   *[other] { $count } stretches you marked as not to be believed
}
review-left = Left out: { $parts }; { $time } of readings.
review-left-unread = Left out: { $parts }; no reading of this window.
review-left-nothing = Nothing in this window counts as pressure or is marked as not to be believed, so nothing is left out.
review-left-kept = { $kept ->
    [one] One that looks like pressure stays in, for you said it was real.
   *[other] { $kept } that look like pressure stay in, for you said they were real.
}
review-left-may-be-real = A possible pressure low may have been real: a blood check decides. All of it stays in the book and on Days and Trust.
review-left-changes = Below { $bound }: { $with } % with them, { $without } % without.
review-left-low = { $said ->
    [yes] { $from } to { $to }: you said it was pressure
   *[no] { $from } to { $to }: possible pressure low, a blood check decides
}
review-left-low-sensor = { $said ->
    [yes] { $from } to { $to }, sensor { $sensor }: you said it was pressure
   *[no] { $from } to { $to }, sensor { $sensor }: possible pressure low, a blood check decides
}
review-edge-below = Below { $glucose }
review-edge-above = Above { $glucose }
review-figure-head = Figure, 95 % margin
review-with-head = With all readings
review-without-head = Without

# The page.
review-window-label = Window
review-last = Last
review-a-year = a year
review-other-dates = Other dates
review-from = From
review-to = to
review-show = Show
review-pressure-label = Possible pressure lows
review-pressure-out = Possible pressure lows are left out of every figure.
review-pressure-count = Count every reading
review-pressure-in = Every reading counts.
review-pressure-leave = Leave out possible pressure lows
review-both-pressure = With and without possible pressure lows
review-both-marked = With and without readings marked as not to be believed
review-left-method = How they are found, and what is left out
review-left-each = Each low left out
review-left-signs = Their signs, and where you say which it was
review-ruler-title = The average day as 24 hours
review-ranges-range = Range, { $unit }
review-ranges-day = Average day
review-ranges-share = Share, 95 % margin
review-ranges-target = Target
review-ranges-method = How time in range and its margin are computed
review-usual-heading = The usual day
review-usual-method = How the usual day is computed
review-usual-caption = Line: the median. Dark band: half of the readings. Pale band: nine tenths, where five days or more allow it. The scale goes by ratio, so that lows get as much room as highs.
review-usual-table = The same as a table
review-usual-table-caption = Percentiles by clock time, { $unit }, every half hour
review-clock = Clock
review-percentile = { $percent }th
review-median = Median
review-days-head = Days
review-week-heading = Weekdays and weekends
review-weekdays = Monday to Friday
review-weekend = Saturday and Sunday
review-when-heading = When it went out of range
review-when-caption = One row a day, the oldest on top, from morning to morning: lows thick, highs thin, stronger at level 2. Strokes under each other may be a habit; a lone stroke says little.
review-when-method = How episodes are counted
review-every-episode = Every episode
review-began = Began
review-kind = Kind
review-lasted = Lasted
review-extreme = Extreme, { $unit }
review-before = Before
review-after = After
review-days-heading = Day by day
review-days-all = All { $days } days
review-day = Day
review-day-24 = 24 hours
review-day-below = Below
review-day-above = Above
review-day-mean = Mean, { $unit }
review-day-extremes = Lowest to highest
review-day-measured = Measured
# Days on end without a reading: three or more.
review-silent = { $from } to { $to }
review-silent-days = { $days } days without readings
review-sensors-heading = Sensors in this window
review-sensor = Sensor
review-sensor-reads = Reads
review-sensor-readings = Readings
review-sensor-readings-label = readings
review-sensor-from = From
review-sensor-from-label = from
review-sensor-to = To
review-sensor-to-label = to
review-sensor-beyond = Beyond its own range
review-sensor-beyond-label = beyond its range
review-sensors-method = How traces and gaps are treated
review-worth-knowing = Worth knowing

# The pictures.
review-ruler-described = { $within } in range, { $above } above, of which { $very_high } very high, and { $below } below, of which { $very_low } very low. The target is more than { $target } in range.
review-unknown-time = unknown time
review-ruler-target = target: over { $time }
review-ruler-within = { $time } in range
review-ruler-margin = 95 % margin { $low } to { $high }
review-ruler-above = { $time } above
review-ruler-below = { $time } below
review-usual-title = Glucose by clock time, in { $unit }
review-usual-nothing = Nothing can be drawn yet.
review-usual-described = The median is lowest at { $low_at } with { $lowest } and highest at { $high_at } with { $highest }. Bands hold half and nine tenths of the readings.
review-night = night
review-behind-every = { $days ->
    [one] { $days } day behind every point
   *[other] { $days } days behind every point
}
review-behind-each = { $least } to { $most } days behind each point
review-when-title = Episodes by day and clock time
# `counted` is what review-lows-and-highs says.
review-when-described = { $counted }, from { $from } on top. The table of episodes lists each.

# `interstice review` in a terminal, whose columns are narrow.
review-text-without = Without possible pressure lows
review-text-ranges = Ranges, { $unit }: the average day, share of time (95 % margin), target
review-text-usual = The usual day, { $unit }: percentiles by clock time
review-text-median = median
review-text-days-head = days
review-text-measures = Measures (95 % margin)
review-text-days = Days: share of time in %, glucose in { $unit }
review-text-in-range = in range
review-text-below = below
review-text-above = above
review-text-mean = mean
review-text-extremes = lowest to highest
review-text-measured = measured
review-text-silent = { $from } to { $to }: { $days } days without readings
review-text-episodes = Episodes: { $counted }
review-text-episodes-more = and { $more } more; `interstice review --json` lists all
review-text-sensors = Sensors
review-text-readings = readings
review-text-from = from
review-text-to = to
review-text-checks = Blood checks
