# Las advertencias, cada una definida una sola vez.

caution-care-team = Esto es lo que se registró, no un consejo. Cuando los síntomas y el sensor no coinciden, decide una medición en sangre. Los cambios de tratamiento son cosa de tu equipo médico.
caution-lows = Una bajada que muestra el sensor puede ser real o no: trata primero los síntomas y después mide en sangre. Por debajo de { $serious } es grave, sea cual sea la causa. Alguien confuso, que no puede tragar o inconsciente es una emergencia: pide ayuda.
caution-ketones = Seguir por encima de { $high } o encontrarse mal es motivo para medir las cetonas. Las cetonas elevadas son una emergencia: sigue el plan de tu equipo médico o pide ayuda.
caution-pressure = Esto no oculta nada: una bajada que parece por presión puede ser verdadera. Trata una bajada como una bajada mientras una medición en sangre no diga otra cosa, y sigue las instrucciones del sensor y a tu equipo médico.
caution-followed = Esto es lo que se registró y lo que siguió, no por qué, ni qué ponerte: lo que no se registró no se ve. Cuánta insulina y cuándo, y cómo tratar una bajada, es algo que decidir con tu equipo médico.
caution-wear = Lo primero son las instrucciones del propio sensor: dónde puede llevarse, cuánto tiempo y si puede ponerse antes de iniciarlo. Los sitios que no nombran, y llevar uno antes de iniciarlo, son decisión tuya. Un enrojecimiento que se extiende, una hinchazón o un picor que vuelve cada vez antes: enséñaselo a un profesional.
caution-first-day = El primer día de un sensor, después de un hueco o de un salto, y cuando la glucosa cambia deprisa, el sensor puede estar lejos de la sangre: decide una medición en sangre.
caution-device = Esto no es un producto sanitario ni una alarma, y nunca indica una dosis ni un cambio de tratamiento.
