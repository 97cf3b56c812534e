# El primer uso y traer un archivo: las páginas de un libro vacío, de un archivo, e Importado.

bring-welcome-title = Empezar
bring-welcome-heading = Un libro vacío
bring-welcome-answer = Dale un archivo que exportaron tus dispositivos, y te dirá, con calma y con su margen, qué pasó de verdad.
bring-ways = O empezar de otra manera
bring-way-write = [Anotar algo a mano]: una medición en sangre, una dosis, una comida. El archivo puede venir después; nada se pregunta dos veces.
bring-way-wear = [Anotar el sensor que llevas puesto], y a partir de él se planea cuándo va el siguiente.
bring-way-settings = [Ajustar tu unidad, tus objetivos y tu zona horaria] primero.
bring-way-settings-now = Ahora muestra { $unit } y se rige por el reloj de { $zone }.
bring-way-invented = Mirar un registro inventado
bring-way-invented-help = Medio año de un maquinista naval que no existe, para ver llenas todas las páginas. Tu libro sigue vacío.
bring-steps = Qué pasa con un archivo
bring-step-look = Se mira el archivo, lo haya hecho quien lo haya hecho: qué columna contiene la hora, cuál la glucosa, en qué unidad.
bring-step-see = Ves cómo se entendió, con sus primeras filas y días. Donde caben dos lecturas se te pregunta, de una en una.
bring-step-write = Solo entonces se escribe en tu libro: un solo archivo, en esta máquina. Se puede deshacer entero.
bring-step-account = Recibes el resumen: el tiempo en rango, el día habitual, cada bajada y cada subida, y cuán segura es cada cifra.
bring-not = Lo que no es
bring-not-said = No es un producto sanitario ni una alarma, y nunca indica una dosis. Muestra lo que se registró y lo que siguió. Cuando los síntomas y el sensor no coinciden, decide una medición en sangre.

bring-drop = Suelta un archivo aquí, o elige uno: una tabla que exportaron tus dispositivos, como texto u hoja de cálculo, también dentro de .zip o .gz.
bring-file = Archivo
bring-look = Mirarlo
bring-drop-help = No se escribe nada hasta que hayas visto cómo se entiende.
bring-none-came = no llegó ningún archivo; elige uno e inténtalo de nuevo
bring-none-chosen = no se eligió ningún archivo; elige uno e inténtalo de nuevo
bring-too-large = el archivo pasa de 256 MB; tráelo con `interstice import FILE`, que lo lee poco a poco
bring-not-whole = el archivo no llegó entero; inténtalo de nuevo
bring-gone = este archivo ya no está en espera; entrégalo de nuevo

bring-title = Un archivo
bring-heading = Cómo se entiende { $name }
bring-days-heading = Sus primeros días
bring-days-caption = Glucosa en { $unit } según el reloj de { $zone }. ¿Están las comidas y las noches donde estuvieron?
bring-days-zone-of-file = este archivo
bring-days-summary = Los días como tabla
bring-days-method = Cómo las lecturas forman una traza
bring-question = Hay algo que solo tú puedes decir.
bring-question-go-on = Seguir
bring-question-more = { $more ->
    [one] { $more } más después de esta
   *[other] { $more } más después de esta
}
bring-ready = Este archivo se puede leer. Mira abajo si se lee bien; después, tráelo.
bring-in = Traerlo
bring-refused = Este archivo no se puede usar. No se escribió nada.
bring-leave = Dejar este archivo

bring-table-heading = Tabla en { $place }
bring-table-form = Forma
bring-table-times = Horas
bring-table-zone = Zona
bring-table-unit = Unidad
bring-table-reads = Lee
bring-table-every = cada { $interval }
bring-table-rows = Las primeras filas, como se leen
bring-columns-heading = Sus columnas
bring-columns-column = Columna
bring-columns-taken = Se toma como
bring-columns-why = Por qué
bring-columns-some = Algo de ella
bring-column = columna { $number }
bring-sure = { $sure ->
    [sure] seguro
    [fairly] bastante seguro
   *[not] no seguro
}
bring-role = { $role ->
    [date-time] fecha y hora
    [date] fecha
    [time-of-day] hora del día
    [offset] diferencia horaria
    [end] fin
    [duration] duración
    [glucose] glucosa
    [scan] escaneo
    [blood-glucose] glucosa en sangre
    [unit] unidad
    [kind] tipo
    [value] valor
    [rapid-insulin] insulina rápida
    [short-insulin] insulina de acción corta
    [intermediate-insulin] insulina intermedia
    [long-insulin] insulina de acción larga
    [mixed-insulin] insulina premezclada
    [insulin] insulina
    [basal-rate] basal
    [intravenous-insulin] insulina intravenosa
    [insulin-text] insulina en palabras
    [insulin-kind] tipo de insulina
    [carbohydrate] hidratos de carbono
    [protein] proteínas
    [fat] grasas
    [fibre] fibra
    [energy] energía
    [food-text] comida en palabras
    [ketones] cetonas
    [activity] actividad
    [sleep] sueño
    [medicine] medicamento
    [symptom] síntoma
    [sensor] sensor
    [site] sitio
    [flag] marca
    [subject] persona
    [local-time] hora local
    [device] dispositivo
    [sensor-start] inicio del sensor
    [sensor-end] fin del sensor
    [note] nota
    [ignored] nada que se use
   *[other] { $name }
}

bring-correct = Algo se lee mal
bring-correct-unit = La glucosa está en
bring-correct-dates = Las fechas se escriben
bring-dates = { $order ->
    [day-first] con el día primero
    [month-first] con el mes primero
   *[year-first] con el año primero
}
bring-correct-zone = Las horas se vivieron en la zona
bring-correct-holds = { $column } contiene
bring-correct-column = La columna { $number }
bring-correct-as = { $role } (como se entendió)
bring-correct-as-understood = como se entendió
bring-correct-submit = Leerlo así
bring-name-column = Una de sus columnas sí contiene algo
bring-name-which = La columna, por su encabezado o su número
bring-name-holds = Contiene

bring-receipt-title = Traído
bring-receipt-heading = { $file } está en el libro
bring-receipt-new = Nuevo: { $brought }.
bring-receipt-rows = Filas leídas
bring-receipt-there = Ya estaban
bring-receipt-conflicting = Contradictorias
bring-receipt-first-stands = (vale el valor que llegó primero)
bring-receipt-not-used = Sin usar
bring-receipt-account = Ver el resumen
bring-receipt-undo = Deshacer

bring-readings = { $n ->
    [one] { $shown } lectura
   *[other] { $shown } lecturas
}
bring-scans = { $n ->
    [one] { $shown } escaneo
   *[other] { $shown } escaneos
}
bring-blood-checks = { $n ->
    [one] { $shown } medición en sangre
   *[other] { $shown } mediciones en sangre
}
bring-doses = { $n ->
    [one] { $shown } dosis
   *[other] { $shown } dosis
}
bring-meals = { $n ->
    [one] { $shown } comida
   *[other] { $shown } comidas
}
bring-others = { $n ->
    [one] { $shown } anotación más
   *[other] { $shown } anotaciones más
}
bring-nothing-new = nada nuevo

bring-imports-title = Importado
bring-imports-undone = Deshecho: { $what }
bring-imports-fed = Lo que trajeron las fuentes, día por día
bring-imports-another = Traer otro archivo
bring-imports-none = Todavía no se ha traído ningún archivo.
bring-imports-file = Archivo
bring-imports-when = Cuándo
bring-imports-brought = Trajo
bring-imports-not-used = Filas sin usar
bring-imports-not-used-label = filas sin usar:
bring-imports-all-used = ninguna
bring-imports-undo = Deshacer
bring-imports-undo-which = Deshacer { $file }

bring-rows-title = Filas sin usar
bring-rows-heading = Filas que no se pudieron usar
bring-rows-back = Volver a lo importado
bring-rows-none = Se usaron todas las filas.
bring-rows-row = Fila
bring-rows-row-label = fila
bring-rows-column = Columna
bring-rows-text = Texto
bring-rows-why = Por qué
bring-rows-of-file = archivo
