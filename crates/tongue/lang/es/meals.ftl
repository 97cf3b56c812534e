# Las comidas y lo que siguió.

meals-heading = Las comidas y lo que siguió
meals-none = No se registró ninguna comida en este periodo.
meals-none-followed = No se pudo seguir ninguna de las { $meals } comidas registradas: faltan lecturas antes o después.
meals-answer = { $meals ->
    [one] Se siguió { $meals } comida; la mitad subió más de { $rise }.
   *[other] Se siguieron { $meals } comidas; la mitad subió más de { $rise }.
}
meals-unread = { $meals ->
    [one] Una más no se pudo seguir: faltan lecturas antes o después.
   *[other] { $meals } más no se pudieron seguir: faltan lecturas antes o después.
}
meals-again = La misma comida otra vez
meals-caption = Cuánto subió la glucosa, { $unit }: cada comida sin nada más comido en las dos horas siguientes es un círculo; la barra es donde está la media de más comidas así, 95 %.
meals-meal = Comida
meals-times = Veces
meals-grams = Gramos
meals-own-rise = Su propia subida media, { $unit }
meals-expected-rise = Lo que cabe esperar, { $unit }, margen del 95 %
meals-to-peak = Hasta el máximo
meals-shrunken = Lo que cabe esperar se acerca desde la media propia de la comida hacia la de todas tus comidas, más cuanto menos veces se comió: una comida vista dos veces dice poco por sí sola. Incluye todo lo que se hizo entretanto, también las correcciones.

meals-too-few = muy pocas comidas
meals-timing-untold = Todavía no se puede saber con qué va el momento de la dosis: { $reason }.
meals-timing = { $rose ->
    [less] Las comidas con la dosis antes subieron menos: { $slope } { $unit } por cada diez minutos antes ({ $low } a { $high }), con gramos y nivel parecidos, en { $meals } comidas; { $usual }. Dice qué fue junto, no qué haría un cambio.
    [more] Las comidas con la dosis antes subieron más: { $slope } { $unit } por cada diez minutos antes ({ $low } a { $high }), con gramos y nivel parecidos, en { $meals } comidas; { $usual }. Dice qué fue junto, no qué haría un cambio.
   *[untold] No se puede saber si las comidas con la dosis antes subieron menos: { $slope } { $unit } por cada diez minutos antes ({ $low } a { $high }), con gramos y nivel parecidos, en { $meals } comidas; { $usual }. Dice qué fue junto, no qué haría un cambio.
}
meals-dose-mostly-before = la dosis se puso por lo general { $time } antes de la comida
meals-dose-mostly-after = la dosis se puso por lo general { $time } después de la comida
meals-dose-mostly-with = la dosis se puso por lo general con la comida

meals-each = Cada comida
meals-what = Qué
meals-dose = Dosis
meals-no-dose = ninguna
meals-dose-before = { $dose }, { $time } antes
meals-dose-after = { $dose }, { $time } después
meals-course = De y hasta, { $unit }
meals-back-after = De vuelta tras
meals-not-seen = no se ve
meals-method = Cómo se siguen y se comparan las comidas
meals-chart-title = Cuánto subió la glucosa tras comidas repetidas, en { $unit }, cada comida un punto
meals-chart-meal = { $meal }: { $low } a { $high }
meals-chart-meal-mean = { $meal }: { $low } a { $high }, media { $mean }

meals-text-heading = Comidas
meals-text-times = veces
meals-text-grams = g
meals-text-own = su subida
meals-text-expected = cabe esperar
meals-text-to-peak = al máximo
