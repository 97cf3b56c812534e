# Lo que se repite.

patterns-heading = Lo que se repite
patterns-untold = { $days ->
    [one] Todavía no se puede saber qué se repite a una hora: { $days } día con las mismas horas leídas, de los 10 que hacen falta.
   *[other] Todavía no se puede saber qué se repite a una hora: { $days } días con las mismas horas leídas, de los 10 que hacen falta.
}
patterns-none = Nada se repitió a una hora más de lo que traería el azar, de { $asked } preguntas hechas en { $days } días.
patterns-answer = { $patterns ->
    [one] { $patterns } cosa se repite a una hora en las dos mitades de estos { $days } días, de { $asked } preguntas hechas; detrás de una de cada veinte así estaría solo el azar.
   *[other] { $patterns } cosas se repiten a una hora en las dos mitades de estos { $days } días, de { $asked } preguntas hechas; detrás de una de cada veinte así estaría solo el azar.
}
patterns-one = { $what }: en { $with } de { $days } días, cuando un { $base } % lo tendría en dos horas cualesquiera (primera mitad { $earlier } %, segunda mitad { $later } %).
patterns-every-day = { $event } entre las { $from } y las { $to }
patterns-weekdays = { $event } entre las { $from } y las { $to } de lunes a viernes
patterns-weekends = { $event } entre las { $from } y las { $to } los fines de semana
patterns-tagged = { $event } entre las { $from } y las { $to } los días con la etiqueta «{ $tag }»
patterns-low = Baja
patterns-high = Alta la mitad del tiempo o más
patterns-rise = Subida de { $step } o más en una hora
patterns-fall = Descenso de { $step } o más en una hora

patterns-after = { $beyond_chance ->
    [yes] { $event ->
        [high] { $span }: alta la mitad del tiempo o más { $with } de { $times } veces, cuando las mismas horas de otros días darían { $expected }; más a menudo que por azar.
       *[low] { $span }: baja { $with } de { $times } veces, cuando las mismas horas de otros días darían { $expected }; más a menudo que por azar.
    }
   *[no] { $event ->
        [high] { $span }: alta la mitad del tiempo o más { $with } de { $times } veces, cuando las mismas horas de otros días darían { $expected }; no más de lo que puede traer el azar.
       *[low] { $span }: baja { $with } de { $times } veces, cuando las mismas horas de otros días darían { $expected }; no más de lo que puede traer el azar.
    }
}
patterns-hours-after = { $what ->
    [activity] De { $from } a { $to } horas después de la actividad
    [alcohol] De { $from } a { $to } horas después del alcohol
   *[illness] De { $from } a { $to } horas después de la enfermedad
}
patterns-within-hours = { $what ->
    [activity] En las { $to } horas después de la actividad
    [alcohol] En las { $to } horas después del alcohol
   *[illness] En las { $to } horas después de la enfermedad
}

patterns-dawn = Desde el punto más bajo de la noche hasta antes del desayuno, la glucosa subió por lo general { $rise } (la mitad de { $nights } noches entre { $low } y { $high }); { $step } o más en el { $share }.
patterns-dawn-share = { $share } % de ellas ({ $low } a { $high } %)
patterns-dawn-share-alone = { $share } % de ellas
patterns-dawn-untold = Todavía no se puede saber cuánto sube hacia la mañana: { $reason }.
patterns-too-few-nights = muy pocas noches
patterns-nights-left = Noches que no se cuentan: { $nights }.
patterns-nights-low = { $nights } con una bajada, algo comido o un tramo no creíble
patterns-nights-dose = { $nights } con una dosis
patterns-nights-no-breakfast = { $nights } sin un desayuno registrado
patterns-nights-unread = { $nights } en que faltan lecturas
patterns-method = Cómo se buscan los patrones, y qué deja fuera al azar
