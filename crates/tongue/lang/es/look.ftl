# Segunda mirada: lo que siguió a momentos pasados parecidos a uno.

look-title = Segunda mirada
look-empty = aparecerá lo que siguió a momentos parecidos

look-none = Sin segunda mirada: { $reason }.
look-none-at = Sin segunda mirada del { $when }: { $reason }.
look-unknown = Sin segunda mirada: no se sabe qué siguió.
look-sentence = { $waiting ->
    [yes] { $moments ->
        [one] En { $moments } momento pasado parecido a este, cuando esperaste, la mitad estaba dos horas después entre { $low } y { $high }.
       *[other] En los { $moments } momentos pasados más parecidos a este, cuando esperaste, la mitad estaba dos horas después entre { $low } y { $high }.
    }
   *[no] { $moments ->
        [one] En { $moments } momento pasado parecido a este, hicieras lo que hicieras, la mitad estaba dos horas después entre { $low } y { $high }.
       *[other] En los { $moments } momentos pasados más parecidos a este, hicieras lo que hicieras, la mitad estaba dos horas después entre { $low } y { $high }.
    }
}
look-came = { $place ->
    [outside] Dos horas después del { $when } estaba en { $glucose }, fuera de la banda que abarca ocho de cada diez. La línea de puntos es lo que pasó de verdad.
    [wide] Dos horas después del { $when } estaba en { $glucose }, dentro de la banda que abarca ocho de cada diez, fuera de su mitad central. La línea de puntos es lo que pasó de verdad.
   *[half] Dos horas después del { $when } estaba en { $glucose }, dentro de la mitad central. La línea de puntos es lo que pasó de verdad.
}

look-moment = { $way ->
    [rising] { $when }: { $glucose }, subiendo.
    [falling] { $when }: { $glucose }, bajando.
   *[level] { $when }: { $glucose }, estable.
}
look-alike = { $moments ->
    [one] { $moments } momento pasado tuyo se parece, en { $days }: la mitad, a menos de { $glucose } y a menos de { $clock } de la hora.
   *[other] { $moments } momentos pasados tuyos se parecen, en { $days }: la mitad, a menos de { $glucose } y a menos de { $clock } de la hora.
}
look-days = { $days ->
    [one] { $days } día
   *[other] { $days } días
}
look-whatever = Aquí no hay insulina anotada, así que los momentos en los que esperaste no se distinguen de los demás: esto es lo que siguió, hicieras lo que hicieras.

look-chance = { $percent } % ({ $low } a { $high })
look-back = { $waiting ->
    [yes] De vuelta a { $top } o menos en 3 h cuando esperaste: { $chance }.
   *[no] De vuelta a { $top } o menos en 3 h, hicieras lo que hicieras: { $chance }.
}
look-episodes = { $waiting ->
    [yes] { $of ->
        [one] De { $of } episodio pasado por encima del rango cuando esperaste, { $back } volvió en 3 h.
       *[other] De { $of } episodios pasados por encima del rango cuando esperaste, { $back } volvieron en 3 h.
    }
   *[no] { $of ->
        [one] De { $of } episodio pasado por encima del rango, hicieras lo que hicieras, { $back } volvió en 3 h.
       *[other] De { $of } episodios pasados por encima del rango, hicieras lo que hicieras, { $back } volvieron en 3 h.
    }
}
look-episodes-more = Se dice más a partir de 40.
look-low = { $waiting ->
    [yes] Una bajada por debajo de { $bound } en 4 h cuando esperaste: { $chance }.
   *[no] Una bajada por debajo de { $bound } en 4 h, hicieras lo que hicieras: { $chance }.
}
look-is-low = Ahora está baja: eso se trata como te enseñaron, no se espera.
look-turned-already = { $turn ->
    [highest] En el caso central ya estaba en su punto más alto.
   *[lowest] En el caso central ya estaba en su punto más bajo.
}
look-turned = { $turn ->
    [highest] En el caso central llegó a su punto más alto después de { $time }.
   *[lowest] En el caso central llegó a su punto más bajo después de { $time }.
}
look-corrected = { $moments ->
    [one] En { $moments } momento parecido más, en { $days }, se puso una corrección{ $back }{ $low }. Tú elegiste cuándo ponerla: las dos cosas no se pueden comparar como si fuera por sorteo.
   *[other] En { $moments } momentos parecidos más, en { $days }, se puso una corrección{ $back }{ $low }. Tú elegiste cuándo ponerla: las dos cosas no se pueden comparar como si fuera por sorteo.
}
look-corrected-back = ; la glucosa volvió al rango en 3 h en el { $chance }
look-corrected-low = ; siguió una bajada en 4 h en el { $chance }
look-corrected-few = Muy pocos parecidos en los que se puso una corrección: { $moments }; hacen falta 10.

look-blood-untold = No se puede decir qué hizo la sangre: { $reason }.
look-blood-unknown = No se sabe qué hizo la sangre.
look-blood = En sangre había probablemente unos { $blood }. Dos horas después de momentos parecidos, la mitad de lo que siguió en sangre estaba entre { $half_low } y { $half_high }, y ocho décimas partes entre { $low } y { $high }.
look-blood-low = Una bajada en sangre en 4 h: { $chance }.
look-blood-basis = { $checks ->
    [one] Es la estimación a partir de tus sensores y { $checks } medición en sangre: sin el retraso y la escala del sensor hasta donde se conocen, y con lo que no se sabe dentro de las bandas. Una medición en sangre lo decide.
   *[other] Es la estimación a partir de tus sensores y { $checks } mediciones en sangre: sin el retraso y la escala del sensor hasta donde se conocen, y con lo que no se sabe dentro de las bandas. Una medición en sangre lo decide.
}

look-fan-after = Después
look-fan-p10 = 10 % por debajo
look-fan-p25 = 25 % por debajo
look-fan-p50 = centro
look-fan-p75 = 25 % por encima
look-fan-p90 = 10 % por encima

look-score = { $moments ->
    [one] { $moments } momento en { $days }, cada día estimado solo con los días anteriores. En { $few } eran muy pocos los parecidos, y se te habría dicho; se puntúan de todos modos.
   *[other] { $moments } momentos en { $days }, cada día estimado solo con los días anteriores. En { $few } eran muy pocos los parecidos, y se te habría dicho; se puntúan de todos modos.
}
look-score-basis = Acierto en tanto por ciento: cuánto menores son el error del centro (media cuadrática) y el del abanico (CRPS) que los de una glucosa que se queda como está, y el error del centro que el de tu propia media a esa hora. En la banda: resultados dentro de la banda del 80 %.
look-score-told = estimados
look-score-skill = acierto
look-score-fan = del abanico
look-score-clock = frente a la hora
look-score-band = en la banda, %
look-score-chance = { $what ->
    [back] De vuelta al rango en 3 h, una vez por episodio: estimado { $told } veces, ocurrió { $came }; la probabilidad estuvo un { $past } % más cerca que tu propia frecuencia hasta entonces, y un { $afterwards } % que la frecuencia que solo se conoce después.
   *[low] Una bajada en 4 h: estimada { $told } veces, ocurrió { $came }; la probabilidad estuvo un { $past } % más cerca que tu propia frecuencia hasta entonces, y un { $afterwards } % que la frecuencia que solo se conoce después.
}

look-caution = Esto es lo que se registró y lo que siguió, no un consejo: no sabe nada de lo que vas a comer, tomar o hacer. Cuando los síntomas y el sensor no coinciden, decide una medición en sangre; una bajada se trata, no se espera. Qué ponerte es cosa tuya y de tu equipo médico.
look-caption = La línea es el sensor. Después del punto, la mitad de lo que siguió está en la banda más oscura, ocho de cada diez en la más clara; la línea discontinua es el centro.
look-caption-with-blood = La línea es el sensor. Junto al punto está lo que probablemente hay en sangre, nueve de cada diez veces. Después, la mitad de lo que siguió está en la banda más oscura, ocho de cada diez en la más clara; la línea discontinua es el centro.
look-caption-of-blood = La línea es el sensor; el punto, lo que probablemente había en sangre. Después, la mitad de lo que siguió en sangre está en la banda más oscura, ocho de cada diez en la más clara; lo que la estimación no sabe está dentro de ellas.
look-fan-summary = El abanico como tabla, { $unit }
look-fan-summary-blood = El abanico de la sangre como tabla, { $unit }
look-corrected-summary = Lo que siguió cuando se puso una corrección, { $unit }
look-method = Cómo se encuentran los momentos parecidos, y cuánto ha acertado esto
look-in-full = Lo que siguió, entero, o en otro momento
look-another = Otro momento
look-look = Mirar
look-followed-heading = { $waiting ->
    [yes] Lo que siguió cuando esperaste
   *[no] Lo que siguió, hicieras lo que hicieras
}
look-blood-heading = Lo mismo en sangre
look-blood-method = Cómo se estima la sangre entre las mediciones

look-chart-title = Lo que siguió a momentos parecidos a este, glucosa en { $unit }
look-chart-title-blood = Lo que siguió a momentos parecidos a este, sangre según la estimación en { $unit }
look-chart-described = Desde { $glucose }, la mitad de lo que siguió estaba entre { $half_low } y { $half_high } al cabo de 2 h, y ocho décimas partes entre { $low } y { $high }.
look-chart-before = lo que marcó el sensor
look-chart-after = lo que siguió otras veces

look-no-reading = no hay ninguna lectura en la media hora anterior a ese momento
look-no-gap = la hora anterior a ese momento tiene un hueco; su forma no se puede comparar
look-no-too-early = el abanico empieza el séptimo día; este es el día { $day } con lecturas
look-no-too-little = muy pocos momentos pasados van seguidos de lecturas sin huecos
look-no-too-few = { $moments ->
    [one] muy pocos parecidos: { $moments } momento pasado en { $days ->
        [one] { $days } día
       *[other] { $days } días
    }; hacen falta { $need } en { $need_days } días
   *[other] muy pocos parecidos: { $moments } momentos pasados en { $days ->
        [one] { $days } día
       *[other] { $days } días
    }; hacen falta { $need } en { $need_days } días
}
look-blood-no-sensor = ningún sensor se leyó antes de ese día
