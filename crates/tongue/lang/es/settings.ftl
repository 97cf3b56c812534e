# La página Ajustes, `interstice set`.

settings-language = Idioma
settings-unfinished = { $language } (sin terminar: lo que aún no está traducido aparece en inglés)

settings-before-you-begin = Antes de empezar
settings-have-read = Lo he leído
