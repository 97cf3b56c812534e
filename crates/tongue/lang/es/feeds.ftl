# Lo que trae lecturas por sí solo, y quién puede entrar: las páginas Fuentes, Dispositivos y enlaces, y emparejar.

feeds-to-settings = Volver a Ajustes

feeds-devices-title = Dispositivos y enlaces
feeds-devices-home = { $devices ->
    [0] La aplicación está abierta en la red de casa, y no hay ningún dispositivo emparejado.
    [1] La aplicación está abierta en la red de casa, y hay un dispositivo emparejado.
   *[other] La aplicación está abierta en la red de casa, y hay { $devices } dispositivos emparejados.
}
feeds-devices-alone = { $devices ->
    [0] La aplicación está abierta solo en esta máquina, y no hay ningún dispositivo emparejado. Para dejar entrar dispositivos se inicia con --home.
    [1] La aplicación está abierta solo en esta máquina, y hay un dispositivo emparejado. Para dejar entrar dispositivos se inicia con --home.
   *[other] La aplicación está abierta solo en esta máquina, y hay { $devices } dispositivos emparejados. Para dejar entrar dispositivos se inicia con --home.
}
feeds-devices-heading = Dispositivos
feeds-devices-none = No hay ningún dispositivo emparejado.
feeds-devices-help = Un dispositivo se empareja con un código que la terminal muestra una vez y con la frase de contraseña. Lo sigue estando 180 días, pero no si pasa 30 sin que se lo vea.
feeds-device-line = emparejado { $paired }, visto { $seen }
feeds-device-until = entra hasta { $until }
feeds-device-out = Dejar fuera
feeds-links-heading = Enlaces a una sola página
feeds-links-none = No hay ninguno.
feeds-links-days = Días que vale un enlace nuevo a la hoja para la consulta
feeds-links-submit = Crear un enlace
feeds-links-help = Quien lo tenga ve la hoja para la consulta de los últimos 90 días tal como esté entonces, y nada más, donde se llegue a esta aplicación. Se le puede poner fin en cualquier momento.
feeds-link-sheet = Hoja para la consulta
feeds-link-line = creado { $made }, vale hasta { $until }
feeds-link-end = Ponerle fin
feeds-link-new = El enlace nuevo, que solo se muestra esta vez:
feeds-link-address = La dirección de esta aplicación, seguida de
feeds-link-look = Mirar lo que muestra
feeds-link-title = Consulta, { $window }

feeds-pair-title = Emparejar este dispositivo
feeds-pair-answer = Este dispositivo todavía no está emparejado con la aplicación.
feeds-pair-code = El código que muestra la terminal
feeds-pair-passphrase = La frase de contraseña
feeds-pair-name = Un nombre para este dispositivo, para reconocerlo
feeds-pair-submit = Emparejar
feeds-pair-already = ¿Ya habías emparejado este dispositivo? Entonces, [seguir]; si eso vuelve a traer aquí, se acabó su tiempo o se dejó fuera.
feeds-pair-certificate = [El certificado de esta aplicación], para un dispositivo que deba confiar en ella: compara antes su huella con la de la terminal.
