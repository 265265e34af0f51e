"use strict";
// Shows the trace of a cell: everything in it was made by the build; this only puts text on the page.
(() => {
  const data = JSON.parse(document.getElementById("traces").textContent);
  const panel = document.getElementById("trace");
  let opened = null;

  const add = (parent, tag, text, className) => {
    const made = parent.appendChild(document.createElement(tag));
    made.textContent = text;
    if (className) made.className = className;
    return made;
  };

  const show = (cell) => {
    const trace = data.traces[cell.dataset.trace];
    panel.textContent = "";
    add(panel, "h3", trace.title);
    for (const step of trace.steps || []) add(panel, "p", step);
    add(panel, "p", trace.working);
    add(panel, "p", trace.rounding);
    for (const id of trace.givens) {
      const given = data.givens[id];
      add(panel, "p", given.value + ": " + given.says);
      for (const [key, locator] of given.cite) add(panel, "p", locator + ". " + data.references[key], "small");
    }
    if (trace.choices.length) add(panel, "p", "Chosen for this card: " + trace.choices.join(", "), "small");
    const close = add(panel, "button", "Close");
    close.type = "button";
    close.addEventListener("click", hide);
    panel.hidden = false;
    opened = cell;
  };

  const hide = () => {
    panel.hidden = true;
    if (opened) opened.blur();
    opened = null;
  };

  const move = (cell, rows, columns) => {
    const row = cell.closest("tbody").rows[cell.parentElement.sectionRowIndex + rows];
    const next = row && row.cells[cell.cellIndex + columns];
    if (next && next.dataset.trace) next.focus();
  };

  const arrows = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] };
  for (const cell of document.querySelectorAll("td[data-trace]")) {
    cell.tabIndex = 0;
    cell.addEventListener("focus", () => show(cell));
    cell.addEventListener("keydown", (event) => {
      if (arrows[event.key]) {
        event.preventDefault();
        move(cell, ...arrows[event.key]);
      }
    });
  }
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") hide();
  });
})();
