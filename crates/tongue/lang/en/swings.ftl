# Swings: what fed what, lows treated, how soon somebody acts.

swings-heading = Swings: what fed what
# One of a kind, within a list or a sentence.
swings-kind-stacked = a correction while one still acted, then a low
swings-kind-over-treated = a low, more eaten than first aid, then a high
swings-kind-missed-dose = a meal without a logged dose, then a high
swings-kind-late-dose = a meal with a late dose, then a high
swings-kind-rebound = a low, then a high that nothing logged explains
swings-kind-pressure = something eaten against a low that was probably pressure
swings-none = No swing was found in this window: no low, high, dose and meal that fed each other by the rules below.
swings-answer = { $swings ->
    [one] { $swings } swing.
   *[other] { $swings } swings.
}
swings-answer-rate = { $swings ->
    [one] { $swings } swing: { $rate } a week ({ $low } to { $high }).
   *[other] { $swings } swings: { $rate } a week ({ $low } to { $high }).
}
# `low` and `high` are hours with their word.
swings-brought = They brought { $low } low and { $high } high a week.
swings-brought-margin = They brought { $low } low and { $high } high a week (together { $least } to { $most }).
swings-hours = { $is_one ->
    [yes] { $hours } hour
   *[no] { $hours } hours
}
swings-kind-head = What fed what
swings-count-head = Swings
swings-rate-head = A week, 95 % margin

# `chance` is one of the three after it.
swings-hours-usual = Most begin between { $from } and { $to }: { $with } of { $swings }. Were all hours alike, the fullest { $span } hours would hold so many { $chance } in 100.
swings-hours-none = They keep to no hours: the fullest, between { $from } and { $to }, hold { $with } of { $swings }, and chance alone does as much { $chance } in 100.
swings-less-than-once = less than once
swings-once = once
swings-times = { $times } times
# `high` is a number or 'any number of'.
swings-compared = { $of ->
    [halves] { $came ->
        [more] They came more often in the later half of the window than in the earlier: { $low } to { $high } times as often.
        [less] They came less often in the later half of the window than in the earlier: { $low } to { $high } times as often.
       *[untold] Whether they came more often in the later half of the window than in the earlier cannot be told: { $low } to { $high } times as often.
    }
   *[week] { $came ->
        [more] They came more often at weekends than from Monday to Friday: { $low } to { $high } times as often.
        [less] They came less often at weekends than from Monday to Friday: { $low } to { $high } times as often.
       *[untold] Whether they came more often at weekends than from Monday to Friday cannot be told: { $low } to { $high } times as often.
    }
}
swings-any-number = any number of
swings-pause-enough = In { $enough } of { $swings } what followed shows that waiting would have been enough: the high or the low was over before what was done last can have acted.

# The links of a swing, each after its clock time. `at` is what the sensor showed, where `is_shown`; `grams` is one of the two last.
swings-link-high = high, up to { $extreme }
swings-link-low = low, down to { $extreme }
swings-link-checked-low = low of { $extreme } by a blood check, which the sensor did not show
swings-link-checked-low-at = low of { $extreme } by a blood check, which the sensor did not show: it showed { $at }
swings-link-pressure-low = low, down to { $extreme }, probably pressure
swings-link-undosed-meal = { $is_shown ->
    [yes] { $grams } eaten at { $at }, no dose logged
   *[no] { $grams } eaten, no dose logged
}
swings-link-meal = { $is_shown ->
    [yes] { $grams } eaten at { $at }
   *[no] { $grams } eaten
}
swings-link-late-dose = { $dose } for it, { $after }
swings-link-correction = { $is_shown ->
    [yes] { $dose } as correction at { $at }
   *[no] { $dose } as correction
}
swings-link-stacked = { $is_shown ->
    [yes] { $dose } as correction at { $at }, { $after }, with about { $left } % of the one before left
   *[no] { $dose } as correction, { $after }, with about { $left } % of the one before left
}
swings-link-treatment = { $is_shown ->
    [yes] { $grams } against the low at { $at }
   *[no] { $grams } against the low
}
swings-later = { $time } later
swings-grams = { $grams } g
swings-not-counted = carbohydrate, not counted
# Within a sentence and beside a date.
swings-cost-both = { $low } low and { $high } high
swings-cost-low = { $low } low
swings-cost-high = { $high } high
swings-cost-none = no time out of range
# `fall` is glucose in a quarter of an hour, said where it was falling.
swings-pause-left = { $moving ->
    [falling] At { $time } about { $left } % of the correction before was left and the sensor was falling by { $fall } in a quarter of an hour.
    [rising] At { $time } about { $left } % of the correction before was left and the sensor was still rising.
    [level] At { $time } about { $left } % of the correction before was left and the sensor was level.
   *[untold] At { $time } about { $left } % of the correction before was left.
}
swings-pause-spent = Little of it would have been left { $time } later.
swings-pause-eaten = At { $time } more was eaten, { $after } after { $grams } g.
swings-pause-over = { $of ->
    [high] { $enough ->
        [yes] The high was over at { $over }, before this one can have done much.
       *[no] The high was over at { $over }; what waiting would have changed cannot be told.
    }
   *[low] { $enough ->
        [yes] The low was over at { $over }, before this can have acted.
       *[no] The low was over at { $over }.
    }
}

swings-lows-heading = Lows treated
swings-lows-grams = { $lows ->
    [one] Against { $lows } low you logged { $grams } g as a rule (half of the time between { $low } and { $high }). First aid is 15 to 20 g, then a quarter of an hour's wait (American Diabetes Association).
   *[other] Against { $lows } lows you logged { $grams } g as a rule (half of the time between { $low } and { $high }). First aid is 15 to 20 g, then a quarter of an hour's wait (American Diabetes Association).
}
swings-lows-back = The sensor was back above the low range { $time } after the first bite as a rule (half of the time between { $low } and { $high }); it lags behind the blood, so a value still low after a quarter of an hour is usual.
# `share`, `more`, `less`, `soon` and `others` are what swings-share says.
swings-lows-more = More than 20 g was eaten in { $share }.
swings-lows-high-both = A high followed within two hours in { $more } with more than 20 g, and in { $less } with less.
swings-lows-high-more = A high followed within two hours in { $more } with more than 20 g.
swings-lows-high-less = A high followed within two hours in { $less } with 20 g or less.
swings-lows-untold = Too few to tell how lows are treated: { $reason }.
swings-share = { $of } of { $all } ({ $low } to { $high } %)
swings-habit-heading = How soon you act
swings-habit-after = A correction came { $time } after the sensor went high as a rule (half of the time between { $low } and { $high }). { $alone } of { $highs } highs were left alone.
swings-habit-soon = Within an hour of the dose before came { $share } corrections.
swings-habit-low-both = A low followed within four hours after { $soon } of those, and after { $others } of the others.
swings-habit-low-others = A low followed within four hours after { $others } of the others.
swings-habit-low-soon = A low followed within four hours after { $soon } of those.
swings-habit-scans = You looked at the sensor by hand { $scans } times a day as a rule (half of { $days } days between { $low } and { $high }).
swings-habit-untold = Too few to tell how soon you act: { $reason }.
swings-grams-untold = not counted
swings-already-back = already was

# The page.
swings-chart-title = A swing, glucose in { $unit }
swings-more = { $more } more
swings-method = The rules, and where they come from
swings-left-method = How much of a dose is taken to be left
swings-lows-each = Each low something was logged against
swings-lowest = Lowest, { $unit }
swings-lowest-label = lowest
swings-eaten = Eaten, g
swings-eaten-label = eaten, g
swings-bites = In how many bites
swings-bites-label = bites
swings-back-label = back after
swings-high-after = High within 2 h
swings-high-label = high within 2 h
swings-high-after-it = { $high ->
    [yes] yes
   *[no] no
}

# In a terminal.
swings-text-count = swings
swings-text-a-week = a week
swings-text-more = (and { $more } more: --json has them all)
