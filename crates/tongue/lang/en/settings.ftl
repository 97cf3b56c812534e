# The page Settings, `interstice set`.

settings-language = Language
# Beside a language that is not yet whole.
settings-unfinished = { $language } (unfinished: what is not yet translated stands in English)

# The cautions before they were read.
settings-before-you-begin = Before you begin
settings-have-read = I have read this
