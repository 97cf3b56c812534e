# Anotar: la página Anotar y lo que se anotó.

write-title = Anotar
write-done = Anotado.
write-undo = Deshacer
write-undone = Deshecho.

write-again-heading = Anotado a menudo
write-again-help = Un toque lo anota con la hora de ahora, y se puede deshacer. Esto es lo que se anotó antes, no lo que hay que tomar o ponerse.
write-again-meal = { $words }, { $grams } g
write-again-unnamed = una comida
write-again-drink = { $ml } ml de agua

write-kinds = Qué anotar
write-kind = { $kind ->
    [blood] Medición en sangre
    [dose] Dosis
    [meal] Comida
    [activity] Actividad
    [drink] Bebida
    [sleep] Sueño
    [symptom] Síntoma
    [illness] Enfermedad
    [ketones] Cetonas
    [medicine] Medicamento
    [temperature] Temperatura
    [tag] Tipo de día
    [device] Dispositivo
    [artefact] No creíble
   *[note] Nota
}
write-kind-sensor = Sensor

write-blood-number = El medidor marcó, { $unit }
write-dose-number = Unidades
write-meal-number = Hidratos de carbono, gramos, si se sabe
write-drink-number = Mililitros, si se sabe
write-ketones-number = Cetonas en sangre, mmol/L
write-temperature-number = Grados Celsius a tu alrededor
write-insulin = Insulina
write-insulin-kind = { $insulin ->
    [rapid] rápida
    [short-acting] de acción corta
    [intermediate] intermedia
    [long-acting] de acción larga
    [premixed] premezclada
   *[insulin] insulina
}
write-meal-words = Qué fue
write-activity-words = Qué hiciste
write-symptom-words = Qué sentiste
write-medicine-words = Cuál y cuánto
write-tag-words = Una palabra tuya: de guardia, en casa
write-note-words = En palabras
write-words = Una nota, si quieres
write-at = Cuándo; ahora si se deja vacío
write-began = Empezó; ahora si se deja vacío
write-ended = Terminó, si ya terminó
write-sleep-began = Hora de dormirse
write-sleep-ended = Hora de despertar
write-tag-began = Desde; ahora si se deja vacío
write-tag-ended = Hasta; solo ese día si se deja vacío
write-laboratory = De un laboratorio, no de un medidor
write-submit = Anotar
write-unit-dose = unidades
write-unit-meal = g de hidratos de carbono

write-lately-heading = Últimamente
write-lately-none = Últimamente no se anotó nada.
write-from-file = de un archivo
write-correct = Corregir
write-strike = Tachar

write-correct-title = Corregir una anotación
write-correct-help = Lo que había antes queda en el libro, oculto, y la corrección se puede deshacer.
write-correct-submit = Corregir
write-correct-leave = Dejarla como está

write-unit-title = ¿Qué unidad?
write-unit-doubt = { $said } es difícil de creer.
write-unit-nothing = Tu libro está en { $unit }. Todavía no se ha anotado nada.
write-unit-was = Eran { $number } { $unit }
write-unit-neither = Ninguna de las dos: volver al formulario

write-unknown-kind = «{ $what }» no es nada que se anote aquí
write-unknown-entry = no hay tal anotación entre las últimas
write-elsewhere = eso se corrige donde se anotó

write-said-blood = medición en sangre { $glucose }
write-said-laboratory = laboratorio { $glucose }
write-said-dose = { $insulin ->
    [rapid] { $units } de rápida
    [short-acting] { $units } de acción corta
    [intermediate] { $units } de intermedia
    [long-acting] { $units } de acción larga
    [premixed] { $units } de premezclada
   *[insulin] { $units } de insulina
}
write-said-carbohydrate = { $grams } g de hidratos de carbono
write-said-meal = comida
write-said-mark = { $kind ->
    [activity] actividad
    [drink] bebida
    [sleep] sueño
    [symptom] síntoma
    [illness] enfermedad
    [ketones] cetonas
    [medicine] medicamento
    [temperature] temperatura
    [tag] tipo de día
    [device] aviso de un dispositivo
    [artefact] no creíble
   *[note] nota
}
write-said-entry = una anotación

write-away-title = Sin conexión
write-away-answer = Desde aquí no se puede llegar a la aplicación, y nada de esta página es actual.
write-away-lead = Lo que anotes espera en este dispositivo, con la hora en que lo anotas, y se envía cuando se vuelva a llegar a la aplicación.
write-away-asked = Lo que pediste no está guardado en este dispositivo:
write-away-reached = Se vuelve a llegar a la aplicación: [seguir allí].
write-away-no-script = Las anotaciones solo pueden esperar donde se permiten scripts. Anota en papel hasta que se vuelva a llegar a la aplicación.

write-queue-send = Enviarlas ahora
write-queue-waits = { $entries ->
    [one] { $entries } anotación espera su envío
   *[other] { $entries } anotaciones esperan su envío
}
write-queue-stuck = { $entries ->
    [one] { $entries } anotación te necesita
   *[other] { $entries } anotaciones te necesitan
}
write-queue-tried = { $why } Último intento a las { $clock }; las anotaciones siguen en este dispositivo.
write-queue-unreached = No se puede llegar a la aplicación.
write-queue-unpaired = La aplicación ya no conoce este dispositivo: hay que emparejarlo de nuevo.
write-queue-busy = La aplicación pidió esperar un poco.
write-queue-answered = La aplicación respondió { $status }.
write-queue-was = Eran { $unit }
write-queue-this-book = Enviar a este libro
write-queue-again = Intentar de nuevo
write-queue-which = Sin anotar: { $said } es difícil de creer. ¿Qué unidad era?
write-queue-another-book = Sin anotar: era para otro libro, no para el que está abierto.
write-queue-refused = Sin anotar. { $why }
