# Lengths of time, dates and the clock.

time-under-a-minute = under a minute
time-minutes = { $minutes } min
time-hours = { $hours } h
time-hours-minutes = { $hours } h { $minutes } min
time-days = { $days ->
    [one] { $days } day
   *[other] { $days } days
}
time-days-hours = { time-days } { $hours } h

# Monday is 1. Written within a sentence.
time-weekday = { $weekday ->
    [1] Monday
    [2] Tuesday
    [3] Wednesday
    [4] Thursday
    [5] Friday
    [6] Saturday
   *[7] Sunday
}
time-weekday-short = { $weekday ->
    [1] Mon
    [2] Tue
    [3] Wed
    [4] Thu
    [5] Fri
    [6] Sat
   *[7] Sun
}
time-month = { $month ->
    [1] January
    [2] February
    [3] March
    [4] April
    [5] May
    [6] June
    [7] July
    [8] August
    [9] September
    [10] October
    [11] November
   *[12] December
}
time-month-short = { $month ->
    [1] Jan
    [2] Feb
    [3] Mar
    [4] Apr
    [5] May
    [6] Jun
    [7] Jul
    [8] Aug
    [9] Sep
    [10] Oct
    [11] Nov
   *[12] Dec
}

time-date = { $day } { $month } { $year }
time-month-year = { $month } { $year }
time-weekday-date = { $weekday } { $date }
time-weekday-day = { $weekday } { $day }
time-date-short = { $day } { $month }
time-date-short-year = { $date } { $year }
# A date, and the clock of that day.
time-date-clock = { $date }, { $clock }
time-weekday-date-clock = { $weekday } { $date }, { $clock }

# Of a clock time that came twice, when clocks were put back.
time-first-pass = (first time)
time-second-pass = (second time)
