# Lo que pasó de verdad: `interstice review`, la página Resumen.

review-title = Resumen
review-title-window = Resumen, { $window }
review-empty = aparecerá el resumen

review-window = { $days }, del { $from } al { $to }
review-window-day = { $days }, { $day }

review-answer-none = No se puede dar un resumen: { $reason }.
review-no-readings = no hay lecturas en este periodo
review-answer-early = Todavía no alcanza para un día medio: del tiempo medido, el { $within } estuvo en rango, el { $below } por debajo y el { $above } por encima.
review-answer = En un día medio: { $within } en rango, { $below } por debajo y { $above } por encima.
review-no-time = nada
review-early = todavía no alcanza
review-early-because = todavía no alcanza: { $reason }
review-no-usual-day = { $most ->
    [one] Todavía no alcanza para dibujarlo: cada hora necesita lecturas de { $need } días, y tiene las de { $most } día como mucho.
   *[other] Todavía no alcanza para dibujarlo: cada hora necesita lecturas de { $need } días, y tiene las de { $most } días como mucho.
}
review-targets = En rango { $within }, objetivo más de { $over } %: { $over_stands }. Por debajo del rango { $below }, objetivo menos de { $under } %: { $under_stands }. Objetivos: { $group }, en rango de { $low } a { $high }.
review-group-adult = adulto
review-group-older = mayor o de alto riesgo
review-group-pregnancy = embarazo
review-group-own = propios

review-cover = { $days ->
    [one] Las lecturas cubren el { $percent } % del tiempo, en { $with } de { $days } día
   *[other] Las lecturas cubren el { $percent } % del tiempo, en { $with } de { $days } días
}
review-cover-readings = { $readings ->
    [one] { $days ->
        [one] Hay { $readings } lectura, en { $with } de { $days } día
       *[other] Hay { $readings } lectura, en { $with } de { $days } días
    }
   *[other] { $days ->
        [one] Hay { $readings } lecturas, en { $with } de { $days } día
       *[other] Hay { $readings } lecturas, en { $with } de { $days } días
    }
}
review-enough = { $cover }: bastan para estas cifras.
review-not-enough = { $cover }. No bastan para hablar de lo habitual.
review-not-enough-because = { $cover }. No bastan para hablar de lo habitual: { $reason }.

review-episode-kind = { $kind ->
    [low] { $lasting ->
        [yes] Bajada, nivel { $level }, prolongada
       *[no] Bajada, nivel { $level }
    }
   *[high] { $lasting ->
        [yes] Subida, nivel { $level }, prolongada
       *[no] Subida, nivel { $level }
    }
}
review-at-least = al menos { $length }
review-near = { $what }, { $away }
review-near-text = { $what } ({ $text }), { $away }
review-near-insulin = { $kind ->
    [rapid] { $units } de insulina rápida
    [long] { $units } de insulina de acción larga
   *[other] { $units } de insulina
}
review-near-insulin-untold = { $kind ->
    [rapid] insulina rápida
    [long] insulina de acción larga
   *[other] insulina
}
review-near-carbohydrate = { $grams } g de hidratos de carbono
review-near-eaten = algo de comer
review-near-activity = actividad
review-near-check = medición en sangre { $glucose }
review-near-check-untold = medición en sangre
review-lows-and-highs = { $lows } y { $highs }
review-episodes-none = { $kind ->
    [low] 0 bajadas
   *[high] 0 subidas
}
review-episodes = { $kind ->
    [low] { $count ->
        [one] { $count } bajada
       *[other] { $count } bajadas
    }
   *[high] { $count ->
        [one] { $count } subida
       *[other] { $count } subidas
    }
}
review-episodes-serious = { $kind ->
    [low] { $count ->
        [one] { $count } bajada ({ $serious } de nivel 2)
       *[other] { $count } bajadas ({ $serious } de nivel 2)
    }
   *[high] { $count ->
        [one] { $count } subida ({ $serious } de nivel 2)
       *[other] { $count } subidas ({ $serious } de nivel 2)
    }
}
review-there-were = Hubo { $counted }.

review-trace-unnamed = sensor sin nombre
review-trace-by-hand = escaneado a mano
review-trace-every = cada { $interval }
review-trace-unknown = intervalo desconocido

review-met = cumplido
review-unsure = demasiado justo para decidirlo
review-missed = no cumplido
review-unsure-short = dudoso
review-early-short = todavía no
review-target-less = menos de { $bound } % ({ $time })
review-target-more = más de { $bound } % ({ $time })
review-above-all = Por encima del rango, en total
review-above-all-short = Por encima, en total
review-very-high = muy alta
review-high = alta
review-in-range = En rango
review-below-all = Por debajo del rango, en total
review-below-all-short = Por debajo, en total
review-low = baja
review-very-low = muy baja

review-left-possible = { $count ->
    [one] { $count } posible bajada por presión
   *[other] { $count } posibles bajadas por presión
}
review-left-said = { $count ->
    [one] { $count } bajada que dijiste que era por presión
   *[other] { $count } bajadas que dijiste que eran por presión
}
review-left-marked = { $count ->
    [one] { $count } tramo que marcaste como no creíble
   *[other] { $count } tramos que marcaste como no creíbles
}
review-left = No se cuenta: { $parts }; { $time } de lecturas.
review-left-unread = No se cuenta: { $parts }; ninguna lectura de este periodo.
review-left-nothing = Nada de este periodo cuenta como presión ni está marcado como no creíble, así que no se deja nada fuera.
review-left-kept = { $kept ->
    [one] Una que parece por presión sí se cuenta, porque dijiste que era real.
   *[other] { $kept } que parecen por presión sí se cuentan, porque dijiste que eran reales.
}
review-left-may-be-real = Una posible bajada por presión pudo ser real: decide una medición en sangre. Todo sigue en el libro y en Días y Confianza.
review-left-changes = Por debajo de { $bound }: { $with } % contándolas, { $without } % sin ellas.
review-left-low = { $said ->
    [yes] { $from } a { $to }: dijiste que era por presión
   *[no] { $from } a { $to }: posible bajada por presión, decide una medición en sangre
}
review-left-low-sensor = { $said ->
    [yes] { $from } a { $to }, sensor { $sensor }: dijiste que era por presión
   *[no] { $from } a { $to }, sensor { $sensor }: posible bajada por presión, decide una medición en sangre
}
review-edge-below = Por debajo de { $glucose }
review-edge-above = Por encima de { $glucose }
review-figure-head = Cifra, margen del 95 %
review-with-head = Con todas las lecturas
review-without-head = Sin ellas

review-window-label = Periodo
review-last = Últimos
review-a-year = un año
review-other-dates = Otras fechas
review-from = Desde
review-to = hasta
review-show = Mostrar
review-pressure-label = Posibles bajadas por presión
review-pressure-out = Las posibles bajadas por presión no cuentan en ninguna cifra.
review-pressure-count = Contar todas las lecturas
review-pressure-in = Todas las lecturas cuentan.
review-pressure-leave = Dejar fuera las posibles bajadas por presión
review-both-pressure = Con y sin las posibles bajadas por presión
review-both-marked = Con y sin las lecturas marcadas como no creíbles
review-left-method = Cómo se encuentran, y qué se deja fuera
review-left-each = Cada bajada que se deja fuera
review-left-signs = Sus señales, y dónde decir qué fue cada una
review-ruler-title = El día medio en 24 horas
review-ranges-range = Rango, { $unit }
review-ranges-day = Día medio
review-ranges-share = Proporción, margen del 95 %
review-ranges-target = Objetivo
review-ranges-method = Cómo se calculan el tiempo en rango y su margen
review-usual-heading = El día habitual
review-usual-method = Cómo se calcula el día habitual
review-usual-caption = Línea: la mediana. Banda oscura: la mitad de las lecturas. Banda clara: nueve décimas partes, donde cinco días o más lo permiten. La escala va por proporción, para que las bajadas tengan tanto espacio como las subidas.
review-usual-table = Lo mismo como tabla
review-usual-table-caption = Percentiles por hora, { $unit }, cada media hora
review-clock = Hora
review-percentile = P{ $percent }
review-median = Mediana
review-days-head = Días
review-week-heading = Entre semana y fin de semana
review-weekdays = De lunes a viernes
review-weekend = Sábado y domingo
review-when-heading = Cuándo salió del rango
review-when-caption = Una fila por día, el más antiguo arriba, de mañana a mañana: las bajadas gruesas, las subidas finas, más intensas en el nivel 2. Trazos uno debajo de otro pueden ser una costumbre; un trazo suelto dice poco.
review-when-method = Cómo se cuentan los episodios
review-every-episode = Todos los episodios
review-began = Empezó
review-kind = Tipo
review-lasted = Duró
review-extreme = Extremo, { $unit }
review-before = Antes
review-after = Después
review-days-heading = Día a día
review-days-all = Los { $days } días
review-day = Día
review-day-24 = 24 horas
review-day-below = Por debajo
review-day-above = Por encima
review-day-mean = Media, { $unit }
review-day-extremes = Mínima a máxima
review-day-measured = Medido
review-silent = { $from } a { $to }
review-silent-days = { $days } días sin lecturas
review-sensors-heading = Sensores de este periodo
review-sensor = Sensor
review-sensor-reads = Lee
review-sensor-readings = Lecturas
review-sensor-readings-label = lecturas
review-sensor-from = Desde
review-sensor-from-label = desde
review-sensor-to = Hasta
review-sensor-to-label = hasta
review-sensor-beyond = Fuera de su propio rango
review-sensor-beyond-label = fuera de su rango
review-sensors-method = Cómo se tratan las trazas y los huecos
review-worth-knowing = Conviene saber

review-ruler-described = { $within } en rango, { $above } por encima, de ellas { $very_high } muy alta, y { $below } por debajo, de ellas { $very_low } muy baja. El objetivo es más de { $target } en rango.
review-unknown-time = un tiempo desconocido
review-ruler-target = objetivo: más de { $time }
review-ruler-within = { $time } en rango
review-ruler-margin = margen del 95 %: { $low } a { $high }
review-ruler-above = { $time } por encima
review-ruler-below = { $time } por debajo
review-usual-title = Glucosa por hora, en { $unit }
review-usual-nothing = Todavía no se puede dibujar nada.
review-usual-described = La mediana es más baja a las { $low_at }, con { $lowest }, y más alta a las { $high_at }, con { $highest }. Las bandas abarcan la mitad y nueve décimas partes de las lecturas.
review-night = noche
review-behind-every = { $days ->
    [one] { $days } día tras cada punto
   *[other] { $days } días tras cada punto
}
review-behind-each = de { $least } a { $most } días tras cada punto
review-when-title = Episodios por día y hora
review-when-described = { $counted }, desde el { $from } arriba. La tabla de episodios los enumera.

review-text-without = Sin las posibles bajadas por presión
review-text-ranges = Rangos, { $unit }: el día medio, proporción (margen del 95 %), objetivo
review-text-usual = El día habitual, { $unit }: percentiles por hora
review-text-median = mediana
review-text-days-head = días
review-text-measures = Medidas (margen del 95 %)
review-text-days = Días: proporción del tiempo en %, glucosa en { $unit }
review-text-in-range = en rango
review-text-below = debajo
review-text-above = encima
review-text-mean = media
review-text-extremes = mínima a máxima
review-text-measured = medido
review-text-silent = { $from } a { $to }: { $days } días sin lecturas
review-text-episodes = Episodios: { $counted }
review-text-episodes-more = y { $more } más; `interstice review --json` los enumera todos
review-text-sensors = Sensores
review-text-readings = lecturas
review-text-from = desde
review-text-to = hasta
review-text-checks = Mediciones en sangre
