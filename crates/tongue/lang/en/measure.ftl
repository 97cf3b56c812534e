# The table of measures of a review.

# The measures by their names in the trade, and each in a sentence.
measure-heading = Measures
measure-head = Measure
measure-value-head = Value, 95 % margin
measure-says-head = What it says
measure-resampled = Margins come from resampling whole days, seed { $seed }.
measure-mean = Mean
measure-mean-says = The average over time.
measure-sd = Standard deviation (SD)
measure-sd-says = The usual distance from the mean.
measure-cv = Coefficient of variation (CV)
measure-cv-says = How much glucose swings for its mean; at most { $bound } % is the target.
measure-gmi = GMI
measure-gmi-says = Glucose management indicator: an estimate from the sensor's mean. A laboratory HbA1c can differ either way.
measure-tight = Time in tight range
measure-tight-says = Time from { $low } to { $high }: a narrower look, without an agreed target.
measure-lbgi = LBGI
measure-lbgi-says = Low blood glucose index: how often and how deep the lows go.
measure-hbgi = HBGI
measure-hbgi-says = High blood glucose index: how often and how far the highs go.
measure-gri = GRI
measure-gri-says = Glycaemia risk index, 0 (best) to 100: lows and highs weighed together.
measure-gri-says-outside-pregnancy = Glycaemia risk index, 0 (best) to 100: lows and highs weighed together, by the ranges outside pregnancy.
measure-gri-lows = GRI, lows
measure-gri-lows-says = Its hypoglycaemia component.
measure-gri-highs = GRI, highs
measure-gri-highs-says = Its hyperglycaemia component.
measure-mage = MAGE
measure-mage-says = The mean of the day's large swings.
measure-modd = MODD
measure-modd-says = The mean difference from the same clock time a day before.
measure-conga = CONGA, 1 h
measure-conga-says = How much glucose changes from one hour to the next.
measure-j-index = J-index
measure-j-index-says = Mean and swing in one number.
