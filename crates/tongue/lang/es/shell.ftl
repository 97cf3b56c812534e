# Lo que rodea a cada página.

shell-skip = Ir al contenido
shell-pages = Páginas
shell-tab-now = Ahora
shell-tab-days = Días
shell-tab-review = Resumen
shell-tab-trust = Confianza
shell-tab-wear = Puesto
shell-tab-visit = Consulta
shell-tab-write = Anotar
shell-tab-imports = Importado
shell-tab-settings = Ajustes
shell-foot = Se guarda solo en esta máquina. No es un producto sanitario ni una alarma, y nunca indica una dosis. [Cómo se calcula todo].
shell-foot-alone = No es un producto sanitario ni una alarma, y nunca indica una dosis.

shell-nothing-yet = Todavía no se ha traído nada.
shell-bring-in = [Trae un archivo] y aquí { $appears }.

shell-invented-label = De quién son estos datos
shell-invented = Datos inventados: un maquinista naval que no existe.
shell-invented-in-place = Datos inventados: un maquinista naval que no existe. Nada de esto está en tu libro.
shell-invented-back = Volver a tu propio libro

shell-table = Tabla
shell-table-copy = Copiar
shell-table-copy-which = Copiar la tabla: { $table }
shell-table-copied = Copiada.
shell-table-uncopied = No se pudo copiar.
shell-table-save = Descargar como CSV
shell-table-save-which = Descargar como CSV: { $table }
shell-table-wide = Tabla, más ancha que la página: { $table }
shell-table-name = Nombre
shell-table-value = Valor
shell-table-column = Columna { $number }
