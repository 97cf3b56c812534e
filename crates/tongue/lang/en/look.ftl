# A second look: what followed past moments like one.

look-title = A second look
look-empty = what followed moments like one appears

look-none = No second look: { $reason }.
look-none-at = No second look at { $when }: { $reason }.
look-unknown = No second look: what followed is not known.
# `waiting` is yes where only moments count in which nothing was taken.
look-sentence = { $waiting ->
    [yes] { $moments ->
        [one] In { $moments } past moment most like this one, when you waited, half of them stood between { $low } and { $high } two hours later.
       *[other] In { $moments } past moments most like this one, when you waited, half of them stood between { $low } and { $high } two hours later.
    }
   *[no] { $moments ->
        [one] In { $moments } past moment most like this one, whatever you did, half of them stood between { $low } and { $high } two hours later.
       *[other] In { $moments } past moments most like this one, whatever you did, half of them stood between { $low } and { $high } two hours later.
    }
}
# Where it really went, of a past moment.
look-came = { $place ->
    [outside] Two hours after { $when } it stood at { $glucose }, outside the band that holds eight in ten. The dotted line is what really came.
    [wide] Two hours after { $when } it stood at { $glucose }, inside the band that holds eight in ten, outside its middle half. The dotted line is what really came.
   *[half] Two hours after { $when } it stood at { $glucose }, inside the middle half. The dotted line is what really came.
}

look-moment = { $way ->
    [rising] { $when }: { $glucose }, rising.
    [falling] { $when }: { $glucose }, falling.
   *[level] { $when }: { $glucose }, level.
}
# `days` is look-days.
look-alike = { $moments ->
    [one] { $moments } past moment of yours are alike, on { $days }: half of them within { $glucose }, and within { $clock } of the clock.
   *[other] { $moments } past moments of yours are alike, on { $days }: half of them within { $glucose }, and within { $clock } of the clock.
}
look-days = { $days ->
    [one] { $days } day
   *[other] { $days } days
}
look-whatever = No insulin is written down here, so moments in which you waited cannot be told from others: this is what followed, whatever you did.

# A chance with its margin.
look-chance = { $percent } % ({ $low } to { $high })
look-back = { $waiting ->
    [yes] Back at { $top } or below within 3 h when you waited: { $chance }.
   *[no] Back at { $top } or below within 3 h whatever you did: { $chance }.
}
look-episodes = { $waiting ->
    [yes] { $of ->
        [one] Of { $of } past episode above range when you waited, { $back } came back within 3 h.
       *[other] Of { $of } past episodes above range when you waited, { $back } came back within 3 h.
    }
   *[no] { $of ->
        [one] Of { $of } past episode above range whatever you did, { $back } came back within 3 h.
       *[other] Of { $of } past episodes above range whatever you did, { $back } came back within 3 h.
    }
}
look-episodes-more = More is told from 40 of them on.
look-low = { $waiting ->
    [yes] A low, below { $bound }, within 4 h when you waited: { $chance }.
   *[no] A low, below { $bound }, within 4 h whatever you did: { $chance }.
}
look-is-low = It is low now: that is for treating as you were taught, not for waiting.
# `turn` is highest or lowest.
look-turned-already = { $turn ->
    [highest] In the middle case it was at its highest already.
   *[lowest] In the middle case it was at its lowest already.
}
look-turned = { $turn ->
    [highest] It was highest after { $time } in the middle case.
   *[lowest] It was lowest after { $time } in the middle case.
}
# `back` and `low` are the two parts below, or empty.
look-corrected = { $moments ->
    [one] In { $moments } other moment alike, on { $days }, a correction was taken{ $back }{ $low }. You chose when to take one: the two cannot be compared as if by lot.
   *[other] In { $moments } other moments alike, on { $days }, a correction was taken{ $back }{ $low }. You chose when to take one: the two cannot be compared as if by lot.
}
look-corrected-back = ; glucose was back in range within 3 h in { $chance }
look-corrected-low = ; a low followed within 4 h in { $chance }
look-corrected-few = Too few alike in which a correction was taken: { $moments }; 10 are needed.

look-blood-untold = What blood did cannot be told: { $reason }.
look-blood-unknown = What blood did is not known.
look-blood = Blood was probably about { $blood }. Two hours after moments like it, half of what followed in blood lay between { $half_low } and { $half_high }, eight tenths between { $low } and { $high }.
look-blood-low = A low in blood within 4 h: { $chance }.
look-blood-basis = { $checks ->
    [one] That is the estimate from your sensors and { $checks } blood check: the sensor's delay and scale undone as far as they are known, and what is not known within the bands. A blood check settles it.
   *[other] That is the estimate from your sensors and { $checks } blood checks: the sensor's delay and scale undone as far as they are known, and what is not known within the bands. A blood check settles it.
}

# The fan as a table: heads.
look-fan-after = After
look-fan-p10 = 10 % below
look-fan-p25 = 25 % below
look-fan-p50 = middle
look-fan-p75 = 25 % above
look-fan-p90 = 10 % above

# How well it would have told, against what came.
look-score = { $moments ->
    [one] { $moments } moment on { $days }, each day told from the days before it alone. In { $few } of them too few were alike, and you would have been told so; they are scored all the same.
   *[other] { $moments } moments on { $days }, each day told from the days before it alone. In { $few } of them too few were alike, and you would have been told so; they are scored all the same.
}
look-score-basis = Skill in percent: how much smaller the error of the middle (root mean square) and of the fan (CRPS) are than those of glucose staying as it is, and the error of the middle than that of your own mean at that hour. In band: outcomes within the 80 % band.
look-score-told = told
look-score-skill = skill
look-score-fan = of the fan
look-score-clock = to the clock
look-score-band = in band, %
# `what` is back or low.
look-score-chance = { $what ->
    [back] Back in range within 3 h, once an episode: told { $told } times, came { $came }; the chance was { $past } % nearer than your own rate until then, { $afterwards } % than the rate known only afterwards.
   *[low] A low within 4 h: told { $told } times, came { $came }; the chance was { $past } % nearer than your own rate until then, { $afterwards } % than the rate known only afterwards.
}

# The page.
look-caution = This is what was logged and what followed, not advice: it knows nothing of what you are about to eat, take or do. When symptoms and the sensor disagree, a blood check decides; a low is for treating, not for waiting. What to take belongs with your care team.
look-caption = The line is the sensor. After the dot, half of what followed lies in the darker band, eight in ten in the paler one; the broken line is the middle.
look-caption-with-blood = The line is the sensor. Beside the dot stands what blood probably is, nine times in ten. After it, half of what followed lies in the darker band, eight in ten in the paler one; the broken line is the middle.
look-caption-of-blood = The line is the sensor, the dot what blood probably was. After it, half of what followed in blood lies in the darker band, eight in ten in the paler one; what the estimate does not know is within them.
look-fan-summary = The fan as a table, { $unit }
look-fan-summary-blood = Blood's fan as a table, { $unit }
look-corrected-summary = What followed when a correction was taken, { $unit }
look-method = How alike moments are found, and how well this has told
look-in-full = What followed, in full, or at another moment
look-another = Another moment
look-look = Look
look-followed-heading = { $waiting ->
    [yes] What followed when you waited
   *[no] What followed whatever you did
}
look-blood-heading = The same in blood
look-blood-method = How blood is estimated between the checks

# The picture.
look-chart-title = What followed moments like this one, glucose in { $unit }
look-chart-title-blood = What followed moments like this one, blood by the estimate in { $unit }
look-chart-described = From { $glucose }, half of what followed lay between { $half_low } and { $half_high } after 2 h, eight tenths between { $low } and { $high }.
look-chart-before = what the sensor said
look-chart-after = what followed before

# Why there is no second look: within a sentence, after a colon.
look-no-reading = there is no reading within the half hour before that moment
look-no-gap = the hour before that moment has a gap; its shape cannot be compared
look-no-too-early = the fan begins on the seventh day; this is day { $day } with readings
look-no-too-little = too few past moments are followed by readings without a gap
look-no-too-few = too few alike: { $moments } past moments on { $days } days; { $need } on { $need_days } days are needed
look-blood-no-sensor = no sensor was read before that day
