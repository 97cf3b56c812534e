# Blood checks of days without a sensor.

checks-said = There are no sensor readings in these days. What follows is of blood checks, not of time: a check is made when somebody wants to know, so lows and highs may be found more often than they lasted, and what came between two checks is not known.
checks-none = There are neither sensor readings nor blood checks in these days.
# `days` is a number with its word; the three others are percentages with their sign, or 'an unknown part'.
checks-answer = { $checks ->
    [one] Of { $checks } blood check on { $days }, { $within } in range, { $below } below and { $above } above.
   *[other] Of { $checks } blood checks on { $days }, { $within } in range, { $below } below and { $above } above.
}
checks-unknown-part = an unknown part
checks-basis = { $days ->
    [one] { $with } of { $days } day have checks.
   *[other] { $with } of { $days } days have checks.
}
checks-basis-a-day = { $days ->
    [one] { $with } of { $days } day have checks, { $a_day } a day on them.
   *[other] { $with } of { $days } days have checks, { $a_day } a day on them.
}
checks-meals = { $meals ->
    [one] { $meals } meal was logged.
   *[other] { $meals } meals were logged.
}

checks-heading = Blood checks by clock
checks-method = How checks are counted
checks-of-all = Of all checks
checks-figures-method = How these figures and their margins are computed
checks-in-range = In range, { $bounds }
checks-below = Below range, below { $bound }
checks-above = Above range, above { $bound }
# Under the line before; `bounds` is 'below 54' or 'above 250'.
checks-of-it = of it { $bounds }
checks-sd = Standard deviation
checks-cv = CV
checks-lowest = Lowest
checks-highest = Highest
checks-lbgi = LBGI, low blood glucose index
checks-hbgi = HBGI, high blood glucose index
checks-by-clock = By clock
checks-head = Checks
checks-middle = Middle (half between), { $unit }
checks-too-few = too few
checks-chart-title = Blood checks by clock time, in { $unit }
checks-chart-dots = { $dots ->
    [one] { $dots } dot, one a check.
   *[other] { $dots } dots, one a check.
}
