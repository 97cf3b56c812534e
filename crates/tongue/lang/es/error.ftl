# Páginas que dicen por qué no hay ninguna.

error-nothing-here = Aquí no hay nada
error-no-link = No existe este enlace
error-no-sensor = No existe este sensor
error-request = No se puede responder a eso
error-refused = Rechazado
error-too-many = Demasiado a la vez
error-book = No se puede usar el libro
error-internal = Algo salió mal

error-to-sensors = Los sensores que hay
error-to-first = Volver a la primera página
error-to-form = Volver al formulario

error-said-nothing-here = no hay nada en esta dirección
error-said-no-link = este enlace no sirve: se acabó su tiempo, se le puso fin o no está entero
error-said-too-many = se pidió demasiado a la vez y esto no se hizo; inténtalo de nuevo dentro de { $seconds } s
error-said-internal = { $why }; por favor, apunta qué hiciste antes
error-pair-wrong = el código o la frase de contraseña no es correcto
error-pair-no-code = ahora no vale ningún código; pide uno nuevo donde se inició la aplicación
error-invented-not-written = se muestra el registro inventado, y en él no se anota nada; vuelve a tu propio libro y anota allí
error-not-empty = tu libro tiene algo dentro, y eso es lo que se muestra; `interstice demo` muestra el registro inventado por separado
