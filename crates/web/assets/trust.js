// Copies a table as text for a spreadsheet; the page is whole without it.
"use strict";

for (const tools of document.querySelectorAll("p.tools")) offerCopy(tools);

function offerCopy(tools) {
  const table = tools.previousElementSibling?.querySelector("table");
  if (!table || !navigator.clipboard) return;
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = "Copy the table";
  button.addEventListener("click", async () => {
    const rows = [...table.rows].map((row) => [...row.cells].map((cell) => cell.textContent.trim()).join("\t"));
    try {
      await navigator.clipboard.writeText(rows.join("\n") + "\n");
      button.textContent = "Copied";
    } catch {
      button.textContent = "Could not be copied";
    }
  });
  tools.prepend(button);
}
