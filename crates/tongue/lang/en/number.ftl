# Numbers with their words.

# Always the whole word: a single letter is misread as a nought.
number-units = { $amount ->
    [one] { $amount } unit
   *[other] { $amount } units
}

# A percentage, without its sign, that rounds to nothing but is not nothing, and one that rounds to all but is not all.
number-under = under { $bound }
number-over = over { $bound }

# Both ends of an interval, without brackets.
number-span = { $low } to { $high }
# The same behind its value: '61 % (58 to 64)'.
number-with-margin = { $value } ({ $low } to { $high })

# A glucose value at the limit of what the sensor can measure.
number-below = below { $value }
number-above = above { $value }

# In place of a figure that cannot be given yet.
number-missing = not yet: { $reason }
number-too-few = not enough readings
