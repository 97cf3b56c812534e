# The cautions, each defined once. Paraphrased from public guidance; the sources stand in docs/methods.

caution-care-team = This is what was logged, not advice. When symptoms and the sensor disagree, a blood check decides. Changes of treatment belong with your care team.
caution-lows = A low the sensor shows may be real or not: treat symptoms first, then check the blood. Below { $serious } is serious whatever its cause. Someone confused, unable to swallow or unconscious is an emergency: call for help.
caution-ketones = Staying above { $high } or feeling ill is a reason to check ketones. Raised ketones are an emergency: follow your care team's plan or call for help.
caution-pressure = Nothing is hidden by this: a low that looks like pressure can be a true one. Treat a low as a low until a blood check says otherwise, and follow the sensor's instructions and your care team.
caution-followed = This is what was logged and what followed it, not why, and not what to take: what was not logged is not seen. How much insulin and when, and how to treat a low, is for you and your care team to settle.
caution-wear = The sensor's own instructions come first: where it may be worn, for how long, and whether it may be put on before it is started. Places they do not name, and wearing one before its start, are your own choice. Spreading redness, swelling or an itch that comes back sooner each time: show it to a professional.
caution-first-day = In a sensor's first day, after a gap or a jump, and when glucose changes fast, the sensor can stand far from the blood: a blood check decides.
caution-device = This is not a medical device, not an alarm, and it never names a dose or a change of treatment.
