# Duraciones, fechas y horas. El reloj es de 24 horas.

time-under-a-minute = menos de un minuto
time-minutes = { $minutes } min
time-hours = { $hours } h
time-hours-minutes = { $hours } h { $minutes } min
time-days = { $days ->
    [one] { $days } día
   *[other] { $days } días
}
time-days-hours = { time-days } { $hours } h

time-weekday = { $weekday ->
    [1] lunes
    [2] martes
    [3] miércoles
    [4] jueves
    [5] viernes
    [6] sábado
   *[7] domingo
}
time-weekday-short = { $weekday ->
    [1] lun
    [2] mar
    [3] mié
    [4] jue
    [5] vie
    [6] sáb
   *[7] dom
}
time-month = { $month ->
    [1] enero
    [2] febrero
    [3] marzo
    [4] abril
    [5] mayo
    [6] junio
    [7] julio
    [8] agosto
    [9] septiembre
    [10] octubre
    [11] noviembre
   *[12] diciembre
}
time-month-short = { $month ->
    [1] ene
    [2] feb
    [3] mar
    [4] abr
    [5] may
    [6] jun
    [7] jul
    [8] ago
    [9] sep
    [10] oct
    [11] nov
   *[12] dic
}

time-date = { $day } de { $month } de { $year }
time-month-year = { $month } de { $year }
time-weekday-date = { $weekday } { $date }
time-weekday-day = { $weekday } { $day }
time-date-short = { $day } { $month }
time-date-short-year = { $date } { $year }
time-date-clock = { $date }, { $clock }
time-weekday-date-clock = { $weekday } { $date }, { $clock }

time-first-pass = (primera vez)
time-second-pass = (segunda vez)
