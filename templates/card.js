"use strict";
// Shows the trace of a cell, and lays wide charts out in whole columns. Every number shown was made by the build.
(() => {
  const data = JSON.parse(document.getElementById("traces").textContent);
  const panel = document.getElementById("trace");
  let opened = null;
  let silent = false;

  const add = (parent, tag, text, className) => {
    const made = parent.appendChild(document.createElement(tag));
    made.textContent = text;
    if (className) made.className = className;
    return made;
  };

  const hide = () => {
    panel.hidden = true;
    if (!opened) return;
    silent = true;
    opened.focus({ preventScroll: true });
    silent = false;
    opened = null;
  };

  const show = (cell) => {
    if (silent) return;
    const trace = data.traces[cell.dataset.trace];
    panel.textContent = "";
    const top = add(panel, "div", "", "panel-top");
    add(top, "h2", trace.title);
    const close = add(top, "button", "Close");
    close.type = "button";
    close.addEventListener("click", hide);
    for (const step of trace.steps || []) add(panel, "p", step);
    add(panel, "p", trace.working);
    add(panel, "p", trace.rounding);
    for (const id of trace.givens) {
      const given = data.givens[id];
      add(panel, "p", given.value + ": " + given.says);
      for (const [key, locator] of given.cite) add(panel, "p", locator + ". " + data.references[key], "small");
    }
    if (trace.choices.length) add(panel, "p", "Chosen for this card: " + trace.choices.join(", "), "small");
    panel.hidden = false;
    opened = cell;
    const covered = cell.getBoundingClientRect().bottom - panel.getBoundingClientRect().top;
    if (covered > 0) scrollBy(0, covered + 1);
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
    cell.addEventListener("click", () => show(cell));
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

  // A number cut by the edge of the screen would read as another number: 126 as 12. So a chart that is wider than the screen
  // gets columns of one width, a whole number of which fill the frame, and the frame scrolls from column to column.
  const lay = (frame) => {
    const table = frame.firstElementChild;
    const set = (name, value) => frame.style.setProperty(name, value);
    frame.classList.remove("laid");
    const [row, ...columns] = [...table.tHead.rows[table.tHead.rows.length - 1].cells].map((head) => head.getBoundingClientRect().width);
    if (table.getBoundingClientRect().width <= frame.clientWidth + 1) return;
    const widest = columns.sort((one, other) => other - one)[0];
    let whole = 1;
    for (let used = row + widest + widest; used <= frame.clientWidth; used += widest) whole += 1;
    set("--row", row + "px");
    set("--whole", whole);
    set("--count", columns.length);
    frame.classList.add("laid");
  };
  const layAll = () => document.querySelectorAll(".scroll").forEach(lay);
  document.fonts.ready.then(layAll);
  addEventListener("resize", layAll);
})();
