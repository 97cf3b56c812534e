# This moment: `interstice now`, the page Now.

now-title = Now
now-empty = this moment appears

# The answer. `age` is a duration; `reading` a value with its unit, or 'below 40 mg/dL'.
now-answer-none = There is no reading yet.
now-answer-old = The last reading, { $reading }, is { $age } old: it says nothing of now.
now-answer-just-now = The sensor said { $reading } now, { $going }.
now-answer = The sensor said { $reading } { $age } ago, { $going }.
# Where glucose is going: within the answer, after a comma. `rate` is a change with its unit.
now-going = { $way ->
    [falling_fast] falling fast, { $rate } a minute
    [falling] falling, { $rate } a minute
    [rising_fast] rising fast, { $rate } a minute
    [rising] rising, { $rate } a minute
   *[steady] steady
}
now-going-untold = and where it is going cannot be told

now-blood-untold = What blood probably is cannot be told: { $reason }.
now-reason-untold = it cannot be told
now-blood = Blood is probably about { $blood }; nine times in ten between { $low } and { $high }.
# `way` is falling or rising.
now-blood-late = { $way ->
    [falling] Glucose is falling, and a sensor follows blood late.
   *[rising] Glucose is rising, and a sensor follows blood late.
}
now-blood-late-by = { $way ->
    [falling] Glucose is falling, and a sensor follows blood late, by about { $lag } with yours.
   *[rising] Glucose is rising, and a sensor follows blood late, by about { $lag } with yours.
}
now-first-day = The sensor was started { $age } ago: in the first day it can stand far from blood.
now-pressed = The fall looks as if you may be lying on the sensor ({ $percent } % likely); a blood check tells.
now-no-checks = There is no blood check beside this sensor so far, so the band is wide.
now-few-checks = { $checks ->
    [one] There is only { $checks } blood check beside this sensor so far, so the band is wide.
   *[other] There is only { $checks } blood checks beside this sensor so far, so the band is wide.
}

now-acting-unwritten = No insulin is written down, so what is still acting is not known.
now-acting-spent = Of the rapid insulin that was written down hardly any is left.
# `least` is a number, `most` a number with the word 'units'.
now-acting = Of the insulin that was written down, between { $least } and { $most } are still under the skin: { $doses }.
now-acting-to-come = { $units } of a spread dose are still to be given.
now-acting-basal = Of the pump's basal rate, between { $least } and { $most }.
now-acting-left-out = { $doses ->
    [one] { $doses } dose of the last day, long-acting, premixed or of no named kind, is not counted.
   *[other] { $doses } doses of the last day, long-acting, premixed or of no named kind, are not counted.
}
# One dose of a list.
now-dose = { $insulin ->
    [rapid] { $units } rapid { $age } ago
    [short-acting] { $units } short-acting { $age } ago
    [premixed] { $units } premixed { $age } ago
   *[insulin] { $units } insulin { $age } ago
}
now-doses-more = { $more ->
    [one] { $named }, and { $more } dose before
   *[other] { $named }, and { $more } doses before
}
now-doses-older = of doses more than 8 h ago
now-lasts-rapid = { $hours } hours for rapid insulin
now-lasts-short = { $hours } hours for short insulin
now-lasts-both = { $rapid } and { $short }
now-lasts = How much of a dose is left goes by what you set: { $kinds }. The published curves are stretched to leave a twentieth by then.

# The page.
now-not-live = Nothing here is live until readings come in again: [bring in the newest export].
now-write-it-down = Write it down
now-tap-blood = Blood check
now-tap-dose = Dose
now-tap-meal = Meal
now-tap-activity = Activity
now-tap-else = Something else
# Said by a script where the app cannot be reached any more.
now-unreached = Not connected since { $clock }: the app cannot be reached, and nothing below is live.
now-acting-heading = Still acting
now-acting-method = Two published models, and why they differ
now-due-heading = Due
now-worth-heading = A blood check that would teach
now-due-link = What is on, and what comes next

# Why it is not told what blood probably is: within a sentence, after a colon.
now-blood-no-reading = there is no reading of the last minutes
now-blood-no-sensor = the last reading belongs to no sensor
now-blood-not-believed = you marked the last readings as not to be believed
