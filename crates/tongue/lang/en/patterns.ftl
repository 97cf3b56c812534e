# What comes again.

patterns-heading = What comes again
patterns-untold = { $days ->
    [one] What comes again at a clock time cannot be told yet: { $days } day of the 10 it takes with the same hours read.
   *[other] What comes again at a clock time cannot be told yet: { $days } days of the 10 it takes with the same hours read.
}
patterns-none = Nothing came again at a clock time beyond what chance would bring, of { $asked } questions asked over { $days } days.
patterns-answer = { $patterns ->
    [one] { $patterns } thing comes again at a clock time in both halves of these { $days } days, of { $asked } questions asked; chance alone would be behind about one in twenty of such.
   *[other] { $patterns } things come again at a clock time in both halves of these { $days } days, of { $asked } questions asked; chance alone would be behind about one in twenty of such.
}
# `what` is one of the four after it, which begin with one of the four after those.
patterns-one = { $what }: on { $with } of { $days } days, where { $base } % would have it in any two hours (earlier half { $earlier } %, later half { $later } %).
patterns-every-day = { $event } between { $from } and { $to }
patterns-weekdays = { $event } between { $from } and { $to } from Monday to Friday
patterns-weekends = { $event } between { $from } and { $to } at weekends
patterns-tagged = { $event } between { $from } and { $to } on days tagged '{ $tag }'
patterns-low = Low
patterns-high = High for half of the time or more
patterns-rise = Rising by { $step } or more within an hour
patterns-fall = Falling by { $step } or more within an hour

# `span` is one of the two after it, the beginning of the sentence.
patterns-after = { $beyond_chance ->
    [yes] { $event ->
        [high] { $span }: high for half of the time or more { $with } of { $times } times, where the same hours of other days would give { $expected }; more often than by chance.
       *[low] { $span }: low { $with } of { $times } times, where the same hours of other days would give { $expected }; more often than by chance.
    }
   *[no] { $event ->
        [high] { $span }: high for half of the time or more { $with } of { $times } times, where the same hours of other days would give { $expected }; no more than chance may bring.
       *[low] { $span }: low { $with } of { $times } times, where the same hours of other days would give { $expected }; no more than chance may bring.
    }
}
patterns-hours-after = { $what ->
    [activity] { $from } to { $to } hours after activity
    [alcohol] { $from } to { $to } hours after alcohol
   *[illness] { $from } to { $to } hours after illness
}
patterns-within-hours = { $what ->
    [activity] Within { $to } hours after activity
    [alcohol] Within { $to } hours after alcohol
   *[illness] Within { $to } hours after illness
}

# `share` is one of the two after it.
patterns-dawn = From the lowest of the night until before breakfast glucose rose by { $rise } as a rule (half of { $nights } nights between { $low } and { $high }); by { $step } or more in { $share }.
patterns-dawn-share = { $share } % of them ({ $low } to { $high } %)
patterns-dawn-share-alone = { $share } % of them
patterns-dawn-untold = The rise towards morning cannot be told yet: { $reason }.
patterns-too-few-nights = too few nights
# `nights` is a list of those after it.
patterns-nights-left = Nights left out: { $nights }.
patterns-nights-low = { $nights } with a low, something eaten or a stretch not to be believed
patterns-nights-dose = { $nights } with a dose
patterns-nights-no-breakfast = { $nights } without a breakfast logged
patterns-nights-unread = { $nights } with readings missing
patterns-method = How patterns are looked for, and what keeps chance out
