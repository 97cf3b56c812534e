# Mediciones en sangre de días sin sensor.

checks-said = En estos días no hay lecturas de un sensor. Lo que sigue es de mediciones en sangre, no del tiempo: se mide cuando alguien quiere saber, así que las bajadas y las subidas pueden encontrarse más a menudo de lo que duraron, y lo que hubo entre dos mediciones no se sabe.
checks-none = En estos días no hay ni lecturas de un sensor ni mediciones en sangre.
checks-answer = { $checks ->
    [one] De { $checks } medición en sangre en { $days }: { $within } en rango, { $below } por debajo y { $above } por encima.
   *[other] De { $checks } mediciones en sangre en { $days }: { $within } en rango, { $below } por debajo y { $above } por encima.
}
checks-unknown-part = una parte desconocida
checks-basis = { $days ->
    [one] { $with } de { $days } día con mediciones.
   *[other] { $with } de { $days } días con mediciones.
}
checks-basis-a-day = { $days ->
    [one] { $with } de { $days } día con mediciones, { $a_day } al día en ellos.
   *[other] { $with } de { $days } días con mediciones, { $a_day } al día en ellos.
}
checks-meals = { $meals ->
    [one] Se registró { $meals } comida.
   *[other] Se registraron { $meals } comidas.
}

checks-heading = Mediciones en sangre por hora
checks-method = Cómo se cuentan las mediciones
checks-of-all = De todas las mediciones
checks-figures-method = Cómo se calculan estas cifras y sus márgenes
checks-in-range = En rango, { $bounds }
checks-below = Por debajo del rango, menos de { $bound }
checks-above = Por encima del rango, más de { $bound }
checks-of-it = de ello { $bounds }
checks-sd = Desviación estándar
checks-cv = CV
checks-lowest = Mínima
checks-highest = Máxima
checks-lbgi = LBGI, índice de glucosa baja
checks-hbgi = HBGI, índice de glucosa alta
checks-by-clock = Por hora
checks-head = Mediciones
checks-middle = Mediana (la mitad entre), { $unit }
checks-too-few = muy pocas
checks-chart-title = Mediciones en sangre por hora, en { $unit }
checks-chart-dots = { $dots ->
    [one] { $dots } punto, uno por medición.
   *[other] { $dots } puntos, uno por medición.
}
