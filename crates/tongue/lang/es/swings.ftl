# Oscilaciones: qué alimentó qué, bajadas tratadas, cuánto se tarda en actuar.

swings-heading = Oscilaciones: qué alimentó qué
swings-kind-stacked = una corrección mientras otra aún actuaba, y después una bajada
swings-kind-over-treated = una bajada, más comido que los primeros auxilios, y después una subida
swings-kind-missed-dose = una comida sin dosis registrada, y después una subida
swings-kind-late-dose = una comida con la dosis tarde, y después una subida
swings-kind-rebound = una bajada, y después una subida que nada de lo registrado explica
swings-kind-pressure = algo comido contra una bajada que probablemente era por presión
swings-none = No se encontró ninguna oscilación en este periodo: ninguna bajada, subida, dosis y comida que se alimentaran entre sí según las reglas de abajo.
swings-answer = { $swings ->
    [one] { $swings } oscilación.
   *[other] { $swings } oscilaciones.
}
swings-answer-rate = { $swings ->
    [one] { $swings } oscilación: { $rate } por semana ({ $low } a { $high }).
   *[other] { $swings } oscilaciones: { $rate } por semana ({ $low } a { $high }).
}
swings-brought = Trajeron { $low } baja y { $high } alta por semana.
swings-brought-margin = Trajeron { $low } baja y { $high } alta por semana (en conjunto, { $least } a { $most }).
swings-hours = { $is_one ->
    [yes] { $hours } hora
   *[no] { $hours } horas
}
swings-kind-head = Qué alimentó qué
swings-count-head = Oscilaciones
swings-rate-head = Por semana, margen del 95 %

swings-hours-usual = La mayoría empieza entre las { $from } y las { $to }: { $with } de { $swings }. Si todas las horas fueran iguales, las { $span } horas más llenas tendrían tantas { $chance } de cada 100.
swings-hours-none = No tienen horas fijas: las más llenas, entre las { $from } y las { $to }, tienen { $with } de { $swings }, y el azar solo hace lo mismo { $chance } de cada 100.
swings-less-than-once = menos de una vez
swings-once = una vez
swings-times = { $times } veces
swings-compared = { $of ->
    [halves] { $came ->
        [more] Hubo más en la segunda mitad del periodo que en la primera: entre { $low } y { $high } veces tantas.
        [less] Hubo menos en la segunda mitad del periodo que en la primera: entre { $low } y { $high } veces tantas.
       *[untold] No se puede saber si hubo más en la segunda mitad del periodo que en la primera: entre { $low } y { $high } veces tantas.
    }
   *[week] { $came ->
        [more] Hubo más los fines de semana que de lunes a viernes: entre { $low } y { $high } veces tantas.
        [less] Hubo menos los fines de semana que de lunes a viernes: entre { $low } y { $high } veces tantas.
       *[untold] No se puede saber si hubo más los fines de semana que de lunes a viernes: entre { $low } y { $high } veces tantas.
    }
}
swings-any-number = cualquier número de
swings-pause-enough = En { $enough } de { $swings }, lo que siguió muestra que habría bastado con esperar: la subida o la bajada había terminado antes de que pudiera actuar lo último que se hizo.

swings-link-high = alta, hasta { $extreme }
swings-link-low = baja, hasta { $extreme }
swings-link-checked-low = baja de { $extreme } según una medición en sangre, que el sensor no mostró
swings-link-checked-low-at = baja de { $extreme } según una medición en sangre, que el sensor no mostró: marcaba { $at }
swings-link-pressure-low = baja, hasta { $extreme }, probablemente por presión
swings-link-undosed-meal = { $is_shown ->
    [yes] comida de { $grams } con { $at }, sin dosis registrada
   *[no] comida de { $grams }, sin dosis registrada
}
swings-link-meal = { $is_shown ->
    [yes] comida de { $grams } con { $at }
   *[no] comida de { $grams }
}
swings-link-late-dose = { $dose } para ella, { $after }
swings-link-correction = { $is_shown ->
    [yes] { $dose } como corrección con { $at }
   *[no] { $dose } como corrección
}
swings-link-stacked = { $is_shown ->
    [yes] { $dose } como corrección con { $at }, { $after }, cuando de la anterior quedaba cerca del { $left } %
   *[no] { $dose } como corrección, { $after }, cuando de la anterior quedaba cerca del { $left } %
}
swings-link-treatment = { $is_shown ->
    [yes] { $grams } contra la bajada con { $at }
   *[no] { $grams } contra la bajada
}
swings-later = { $time } después
swings-grams = { $grams } g
swings-not-counted = hidratos de carbono sin contar
swings-cost-both = { $low } baja y { $high } alta
swings-cost-low = { $low } baja
swings-cost-high = { $high } alta
swings-cost-none = nada fuera de rango
swings-pause-left = { $moving ->
    [falling] A las { $time } quedaba cerca del { $left } % de la corrección anterior y el sensor bajaba { $fall } en un cuarto de hora.
    [rising] A las { $time } quedaba cerca del { $left } % de la corrección anterior y el sensor todavía subía.
    [level] A las { $time } quedaba cerca del { $left } % de la corrección anterior y el sensor estaba estable.
   *[untold] A las { $time } quedaba cerca del { $left } % de la corrección anterior.
}
swings-pause-spent = { $time } después habría quedado poco de ella.
swings-pause-eaten = A las { $time } se comió más, { $after } después de { $grams } g.
swings-pause-over = { $of ->
    [high] { $enough ->
        [yes] La subida terminó a las { $over }, antes de que esta pudiera hacer mucho.
       *[no] La subida terminó a las { $over }; qué habría cambiado esperar no se puede saber.
    }
   *[low] { $enough ->
        [yes] La bajada terminó a las { $over }, antes de que esto pudiera actuar.
       *[no] La bajada terminó a las { $over }.
    }
}

swings-lows-heading = Bajadas tratadas
swings-lows-grams = { $lows ->
    [one] Contra { $lows } bajada anotaste por lo general { $grams } g (la mitad de las veces entre { $low } y { $high }). Los primeros auxilios son de 15 a 20 g, y después esperar un cuarto de hora (American Diabetes Association).
   *[other] Contra { $lows } bajadas anotaste por lo general { $grams } g (la mitad de las veces entre { $low } y { $high }). Los primeros auxilios son de 15 a 20 g, y después esperar un cuarto de hora (American Diabetes Association).
}
swings-lows-back = El sensor volvió por encima del rango bajo por lo general { $time } después del primer bocado (la mitad de las veces entre { $low } y { $high }); va con retraso respecto a la sangre, así que un valor todavía bajo al cabo de un cuarto de hora es lo habitual.
swings-lows-more = Se comieron más de 20 g en { $share }.
swings-lows-high-both = Siguió una subida en menos de dos horas en { $more } con más de 20 g, y en { $less } con menos.
swings-lows-high-more = Siguió una subida en menos de dos horas en { $more } con más de 20 g.
swings-lows-high-less = Siguió una subida en menos de dos horas en { $less } con 20 g o menos.
swings-lows-untold = Muy pocas para saber cómo se tratan las bajadas: { $reason }.
swings-share = { $of } de { $all } ({ $low } a { $high } %)
swings-habit-heading = Cuánto tardas en actuar
swings-habit-after = Por lo general hubo una corrección { $time } después de que el sensor subiera (la mitad de las veces entre { $low } y { $high }). En { $alone } de { $highs } subidas no se hizo nada.
swings-habit-soon = En la hora siguiente a la dosis anterior hubo { $share } correcciones.
swings-habit-low-both = Siguió una bajada en menos de cuatro horas tras { $soon } de esas, y tras { $others } de las demás.
swings-habit-low-others = Siguió una bajada en menos de cuatro horas tras { $others } de las demás.
swings-habit-low-soon = Siguió una bajada en menos de cuatro horas tras { $soon } de esas.
swings-habit-scans = Por lo general miraste el sensor a mano { $scans } veces al día (la mitad de { $days } días entre { $low } y { $high }).
swings-habit-untold = Muy pocas para saber cuánto tardas en actuar: { $reason }.
swings-grams-untold = sin contar
swings-already-back = ya lo estaba

swings-chart-title = Una oscilación, glucosa en { $unit }
swings-more = { $more } más
swings-method = Las reglas, y de dónde vienen
swings-left-method = Cuánto de una dosis se supone que queda
swings-lows-each = Cada bajada contra la que se registró algo
swings-lowest = Mínima, { $unit }
swings-lowest-label = mínima
swings-eaten = Comido, g
swings-eaten-label = comido, g
swings-bites = En cuántas veces
swings-bites-label = veces
swings-back-label = de vuelta tras
swings-high-after = Subida en 2 h
swings-high-label = subida en 2 h
swings-high-after-it = { $high ->
    [yes] sí
   *[no] no
}

swings-text-count = oscilaciones
swings-text-a-week = por semana
swings-text-more = (y { $more } más: --json las tiene todas)
