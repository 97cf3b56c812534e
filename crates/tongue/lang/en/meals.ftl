# Meals and what followed.

meals-heading = Meals and what followed
meals-none = No meal was logged in this window.
meals-none-followed = None of the { $meals } meals logged could be followed: readings are missing before or after.
meals-answer = { $meals ->
    [one] { $meals } meal was followed; half of them rose by more than { $rise }.
   *[other] { $meals } meals were followed; half of them rose by more than { $rise }.
}
meals-unread = { $meals ->
    [one] One more could not be followed: readings are missing before or after.
   *[other] { $meals } more could not be followed: readings are missing before or after.
}
meals-again = The same meal again
meals-caption = How far glucose rose, { $unit }: each meal with nothing else eaten in the two hours after is a ring; the bar is where the mean of more such meals lies, 95 %.
meals-meal = Meal
meals-times = Times
meals-grams = Grams
meals-own-rise = Its own mean rise, { $unit }
meals-expected-rise = To be expected, { $unit }, 95 % margin
meals-to-peak = To the peak
meals-shrunken = What is to be expected is drawn from the meal's own mean towards all of your meals, the more the seldomer it was eaten: a meal seen twice says little by itself. Everything done meanwhile is in it, corrections too.

meals-too-few = too few meals
meals-timing-untold = What the timing of the dose goes with cannot be told yet: { $reason }.
# `usual` is one of the three after it, a clause.
meals-timing = { $rose ->
    [less] Meals dosed earlier rose less: { $slope } { $unit } for each ten minutes earlier ({ $low } to { $high }), at like grams and level, over { $meals } meals; { $usual }. It says what went together, not what a change would do.
    [more] Meals dosed earlier rose more: { $slope } { $unit } for each ten minutes earlier ({ $low } to { $high }), at like grams and level, over { $meals } meals; { $usual }. It says what went together, not what a change would do.
   *[untold] Whether meals dosed earlier rose less cannot be told: { $slope } { $unit } for each ten minutes earlier ({ $low } to { $high }), at like grams and level, over { $meals } meals; { $usual }. It says what went together, not what a change would do.
}
meals-dose-mostly-before = the dose mostly came { $time } before the meal
meals-dose-mostly-after = the dose mostly came { $time } after the meal
meals-dose-mostly-with = the dose mostly came with the meal

meals-each = Each meal
meals-what = What
meals-dose = Dose
meals-no-dose = none
meals-dose-before = { $dose }, { $time } before
meals-dose-after = { $dose }, { $time } after
meals-course = From and to, { $unit }
meals-back-after = Back after
# Of a return: no reading shows it.
meals-not-seen = not seen
meals-method = How meals are followed and compared
meals-chart-title = How far glucose rose after meals eaten again, in { $unit }, every meal a dot
meals-chart-meal = { $meal }: { $low } to { $high }
meals-chart-meal-mean = { $meal }: { $low } to { $high }, mean { $mean }

# In a terminal.
meals-text-heading = Meals
meals-text-times = times
meals-text-grams = g
meals-text-own = own rise
meals-text-expected = to be expected
meals-text-to-peak = to peak
