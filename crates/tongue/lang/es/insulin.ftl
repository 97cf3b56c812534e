# La insulina como se registró.

insulin-heading = La insulina como se registró
insulin-none = No se registró insulina en este periodo.
insulin-logged = Registrada en { $with } de { $days } días. Unidades, media de los días en que se registró ese tipo.
insulin-kind = { $kind ->
    [rapid] Rápida
    [short] De acción corta
    [intermediate] Intermedia
    [long] De acción larga
    [mixed] Premezclada
   *[other] De tipo no indicado
}
insulin-kind-basal = { $kind ->
    [rapid] Rápida, basal de la bomba
    [short] De acción corta, basal de la bomba
    [intermediate] Intermedia, basal de la bomba
    [long] De acción larga, basal de la bomba
    [mixed] Premezclada, basal de la bomba
   *[other] De tipo no indicado, basal de la bomba
}
insulin-a-day = Al día
insulin-method = Cómo se cuenta la insulina
