# Este momento: `interstice now`, la página Ahora.

now-title = Ahora
now-empty = aparecerá este momento

now-answer-none = Todavía no hay ninguna lectura.
now-answer-old = La última lectura, { $reading }, es de hace { $age }: no dice nada de ahora.
now-answer-just-now = El sensor marca ahora { $reading }, { $going }.
now-answer = El sensor marcó { $reading } hace { $age }, { $going }.
now-going = { $way ->
    [falling_fast] bajando deprisa, { $rate } por minuto
    [falling] bajando, { $rate } por minuto
    [rising_fast] subiendo deprisa, { $rate } por minuto
    [rising] subiendo, { $rate } por minuto
   *[steady] estable
}
now-going-untold = y no se puede saber hacia dónde va

now-blood-untold = No se puede decir cuánto hay probablemente en sangre: { $reason }.
now-reason-untold = no se puede saber
now-blood = En sangre hay probablemente unos { $blood }; nueve de cada diez veces, entre { $low } y { $high }.
now-blood-late = { $way ->
    [falling] La glucosa está bajando, y un sensor sigue a la sangre con retraso.
   *[rising] La glucosa está subiendo, y un sensor sigue a la sangre con retraso.
}
now-blood-late-by = { $way ->
    [falling] La glucosa está bajando, y un sensor sigue a la sangre con retraso: los tuyos, de unos { $lag }.
   *[rising] La glucosa está subiendo, y un sensor sigue a la sangre con retraso: los tuyos, de unos { $lag }.
}
now-first-day = El sensor se inició hace { $age }: el primer día puede estar lejos de la sangre.
now-pressed = La bajada parece la de un sensor sobre el que estás acostado (probabilidad: { $percent } %); una medición en sangre lo aclara.
now-no-checks = Todavía no hay ninguna medición en sangre junto a este sensor, por eso la banda es ancha.
now-few-checks = { $checks ->
    [one] Junto a este sensor solo hay { $checks } medición en sangre, por eso la banda es ancha.
   *[other] Junto a este sensor solo hay { $checks } mediciones en sangre, por eso la banda es ancha.
}

now-acting-unwritten = No hay insulina anotada, así que no se sabe cuánta sigue actuando.
now-acting-spent = De la insulina rápida anotada apenas queda nada.
now-acting = De la insulina anotada, entre { $least } y { $most } siguen bajo la piel: { $doses }.
now-acting-to-come = Faltan por administrarse { $units } de una dosis extendida.
now-acting-basal = De la basal de la bomba, entre { $least } y { $most }.
now-acting-left-out = { $doses ->
    [one] { $doses } dosis del último día, de acción larga, premezclada o de tipo no indicado, no se cuenta.
   *[other] { $doses } dosis del último día, de acción larga, premezcladas o de tipo no indicado, no se cuentan.
}
now-dose = { $insulin ->
    [rapid] { $units } de rápida hace { $age }
    [short-acting] { $units } de acción corta hace { $age }
    [premixed] { $units } de premezclada hace { $age }
   *[insulin] { $units } de insulina hace { $age }
}
now-doses-more = { $more ->
    [one] { $named }, y { $more } dosis anterior
   *[other] { $named }, y { $more } dosis anteriores
}
now-doses-older = de dosis de hace más de 8 h
now-lasts-rapid = { $hours } horas para la insulina rápida
now-lasts-short = { $hours } horas para la insulina de acción corta
now-lasts-both = { $rapid } y { $short }
now-lasts = Cuánto queda de una dosis depende de lo que indicaste: { $kinds }. Las curvas publicadas se estiran para que entonces quede una vigésima parte.

now-not-live = Aquí no hay nada actual hasta que vuelvan a llegar lecturas: [trae la exportación más reciente].
now-write-it-down = Anotar
now-tap-blood = Medición en sangre
now-tap-dose = Dosis
now-tap-meal = Comida
now-tap-activity = Actividad
now-tap-else = Otra cosa
now-unreached = Sin conexión desde las { $clock }: no se puede llegar a la aplicación, y nada de lo que sigue es actual.
now-acting-heading = Sigue actuando
now-acting-method = Dos modelos publicados, y por qué difieren
now-due-heading = Pendiente
now-worth-heading = Una medición en sangre que enseñaría algo
now-due-link = Lo que llevas puesto y lo que viene después

now-blood-no-reading = no hay ninguna lectura de los últimos minutos
now-blood-no-sensor = la última lectura no es de ningún sensor
now-blood-not-believed = marcaste las últimas lecturas como no creíbles
