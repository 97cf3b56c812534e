# La página Ajustes, `interstice set`.

settings-language = Idioma
settings-unfinished = { $language } (sin terminar: lo que aún no está traducido aparece en inglés)

settings-before-you-begin = Antes de empezar
settings-have-read = Lo he leído

settings-title = Ajustes
settings-saved = Guardado. Todas las páginas se rigen ahora por esto.
settings-done = Anotado.
settings-undo = Deshacer
settings-save = Guardar
settings-devices = [Dispositivos y enlaces]: quién puede entrar por la red de casa, y qué muestra una sola página.
settings-feeds = [Fuentes]: lo que trae lecturas por sí solo, y cómo está.

settings-unit = La glucosa se muestra en
settings-targets = Rangos y objetivos: el consenso para
settings-targets-for = { $group ->
    [adult] personas adultas con diabetes tipo 1 o tipo 2
    [older] personas mayores y personas con riesgo alto
    [pregnancy] embarazo con diabetes tipo 1
   *[own] los míos
}
settings-targets-bounds = en rango de { $low } a { $high }
settings-own = los míos, acordados con mi equipo médico
settings-own-fields = en rango de [low] a [high] { $unit }, más del [over] % del tiempo, y por debajo menos del [below] %
settings-own-low = Límite inferior de mi rango
settings-own-high = Límite superior de mi rango
settings-own-over = Tiempo en rango que quiero alcanzar, en porcentaje
settings-own-below = Tiempo por debajo que no quiero superar, en porcentaje
settings-zone = Zona horaria de casa
settings-zone-help = Por su nombre, como Europe/Lisbon o Asia/Kolkata, o como diferencia, como +02:00. Dice cuándo empiezan tus días.
settings-night = Tu noche
settings-night-begins = empieza
settings-night-ends = termina
settings-night-help = Por ella se rigen las noches del resumen, y cuándo puedes estar acostado sobre un sensor, donde no hay sueño anotado. Si se deja vacía, valen las horas habituales.
settings-insulin = Tu insulina actúa durante
settings-insulin-rapid = horas, la rápida
settings-insulin-short = horas, la de acción corta
settings-insulin-help = Horas bajo la piel hasta que queda una vigésima parte, como lo has visto con tu equipo médico; de 1 a 12. Si se deja vacío, valen las curvas publicadas. Cuánto queda de una dosis, en Ahora, en las oscilaciones y en una segunda mirada, se rige por esto; nunca se calcula una dosis a partir de ello.

settings-away-heading = Fuera de casa
settings-away-help = Mientras se vive con otro reloj, los días, las noches y las horas habituales se rigen por él. Se puede anotar después o de antemano, en días enteros de allí.
settings-away-line = { $zone }, desde { $from } hasta { $to }
settings-away-of-file = (según un archivo)
settings-away-strike = Tachar
settings-away-strike-which = Tachar { $zone } desde { $from }
settings-away-from = Primer día allí
settings-away-to = Último día allí
settings-away-zone = Zona horaria de allí
settings-away-submit = Anotar

settings-elsewhere-heading = Se ajusta en otro lugar
settings-elsewhere-kind = [El tipo de sensor que llevas], como lo describen sus instrucciones, y según qué se planea el siguiente
settings-elsewhere-sheet = [Tu nombre, consultas, valores de laboratorio y preguntas] para la hoja
settings-tags-none = Todavía no hay etiquetas. Una etiqueta es una palabra tuya para un tipo de día, y se anota en [Anotar]
settings-tags = Tus etiquetas: { $tags }.
settings-tag = { $days ->
    [one] { $tag } ({ $days } día)
   *[other] { $tag } ({ $days } días)
}
settings-tags-compare = Comparar los días de una con los demás

settings-kept-heading = Dónde se guarda
settings-kept-book = El libro
settings-kept-not-yet = todavía no existe
settings-kept-brought = Traído
settings-kept-files = { $files ->
    [one] { $files } archivo
   *[other] { $files } archivos
}
settings-kept-layouts = Formatos que conoce
settings-layouts-none = ninguno todavía: un archivo de uno de ellos se entiende enseguida. Un formato se olvida cuando se deshacen los archivos que lo enseñaron.
settings-layouts = { $layouts ->
    [one] { $layouts } formato: un archivo de uno de ellos se entiende enseguida. Un formato se olvida cuando se deshacen los archivos que lo enseñaron.
   *[other] { $layouts } formatos: un archivo de uno de ellos se entiende enseguida. Un formato se olvida cuando se deshacen los archivos que lo enseñaron.
}
settings-kept-help = Es un solo archivo. Todo lo que contiene se puede sacar también en tablas, con `interstice export`.

settings-cautions = Las advertencias
settings-cautions-again = Ya las has leído. Aquí están otra vez

settings-backup-never = Este libro todavía no tiene copia de seguridad: [cómo hacer una].
settings-backup-old = { $days ->
    [one] La última copia de seguridad de este libro es de hace { $days } día, y desde entonces se anotó más en él: [cómo hacer una].
   *[other] La última copia de seguridad de este libro es de hace { $days } días, y desde entonces se anotó más en él: [cómo hacer una].
}
settings-backup-heading = Copias de seguridad
settings-backup-last = La última
settings-backup-none = ninguna todavía
settings-backup-by-itself = Por sí sola
settings-backup-by-hand = no
settings-backup-every = { $hours ->
    [one] cada { $hours } hora, en
   *[other] cada { $hours } horas, en
}
settings-backup-next = La siguiente
settings-backup-try = El último intento
settings-backup-failed = { $when }, falló: { $why }
settings-backup-help = Una copia de seguridad es un solo archivo con el libro entero, cifrado con una frase de contraseña tuya, que se vuelve a leer y se compara con este libro antes de darla por buena. En una terminal: `interstice backup FILE`, o por sí sola con `interstice backup-set --folder DIR`; `interstice restore FILE` la recupera. Guarda las copias en otro disco, y la frase de contraseña donde la encuentres sin esta máquina.

settings-unknown-language = «{ $code }» no es ningún idioma de esta aplicación; elige uno de la lista
settings-unknown-targets = eso no es un grupo con objetivos de consenso; elige uno de la lista
settings-own-wrong = unos objetivos propios necesitan dos porcentajes de 1 a 99, que juntos sumen 100 como mucho: el tiempo en rango que quieres alcanzar y el tiempo por debajo que no quieres superar
settings-away-gone = este periodo ya no está en el libro
