"use strict";
// Marks the row of a weight, or the two rows that it lies between. Weights are compared and never worked with: every number that is shown
// was typed by the reader or made by the build. The weight is not remembered: the next patient has another.
(() => {
  const field = document.getElementById("weight");
  const tables = [...document.querySelectorAll("table[data-weight]")];
  if (!tables.length) return;
  field.closest(".weigh").hidden = false;

  const WEIGHT = /^[0-9]{1,3}([.,][0-9]{1,3})?$/;
  // A decimal number as a text that sorts as the number does.
  const sortable = (text) => {
    const [whole, part = ""] = text.replace(",", ".").split(".");
    return whole.padStart(4, "0") + "." + part.padEnd(4, "0");
  };

  const mark = (row, kind) => {
    row.classList.add(kind);
    row.cells[0].setAttribute("aria-current", "true");
  };

  const choose = (table, typed) => {
    const rows = [...table.tBodies[0].rows].map((row) => [sortable(row.cells[0].textContent), row]).sort(([one], [other]) => (one < other ? -1 : 1));
    const head = (row) => row.cells[0].textContent + " kg";
    const wanted = sortable(typed);
    const under = rows.filter(([at]) => at <= wanted).map(([, row]) => row).pop();
    const over = rows.filter(([at]) => at >= wanted).map(([, row]) => row)[0];
    if (!under) return typed + " kg is below this chart: it begins at " + head(over) + ".";
    if (!over) return typed + " kg is above this chart: it ends at " + head(under) + ".";
    mark(under, under === over ? "at" : "near");
    if (under === over) return "Row " + head(under) + " is marked.";
    mark(over, "near");
    return typed + " kg lies between the rows " + head(under) + " and " + head(over) + ". Both are marked; this chart does not interpolate.";
  };

  const clear = (table) => {
    for (const row of table.tBodies[0].rows) {
      row.classList.remove("at", "near");
      row.cells[0].removeAttribute("aria-current");
    }
  };

  const weigh = () => {
    const typed = field.value.trim();
    const wrong = typed !== "" && !WEIGHT.test(typed);
    field.setAttribute("aria-invalid", wrong);
    document.getElementById("unread").hidden = !wrong;
    for (const table of tables) {
      clear(table);
      const line = document.getElementById(table.dataset.weight);
      line.textContent = typed === "" || wrong ? "" : choose(table, typed);
      line.hidden = line.textContent === "";
      line.classList.toggle("none", !table.querySelector(".at, .near") && !line.hidden);
    }
    document.getElementById("heard").textContent = document.getElementById(tables[0].dataset.weight).textContent;
    document.getElementById("unweigh").hidden = typed === "";
  };

  const go = () => {
    const line = document.querySelector(".weighed:not([hidden])");
    if (line) line.scrollIntoView({ block: "start" });
    for (const row of document.getElementById(line ? line.id.replace(/\.weighed$/, "") : "")?.querySelectorAll("tr.at, tr.near") || [])
      row.scrollIntoView({ block: "nearest" });
  };

  field.addEventListener("input", weigh);
  field.addEventListener("change", go);
  field.addEventListener("keydown", (event) => {
    if (event.key === "Enter") field.blur();
  });
  document.getElementById("unweigh").addEventListener("click", () => {
    field.value = "";
    weigh();
    field.focus();
  });
  weigh();
})();
