# Números con sus palabras.

number-units = { $amount ->
    [one] { $amount } unidad
   *[other] { $amount } unidades
}

number-under = menos de { $bound }
number-over = más de { $bound }

number-span = { $low } a { $high }
number-with-margin = { $value } ({ $low } a { $high })

number-below = por debajo de { $value }
number-above = por encima de { $value }

number-missing = todavía no: { $reason }
number-too-few = no hay suficientes lecturas
