"use strict";
// Shows the trace of a cell, and keeps it in the page's address. Every number shown was made by the build.
(() => {
  const data = JSON.parse(document.getElementById("traces").textContent);
  const panel = document.getElementById("trace");
  const cells = [...document.querySelectorAll("tbody td")];
  let opened = null;
  let silent = false;
  let resting = 0;

  const add = (parent, tag, text, className) => {
    const made = parent.appendChild(document.createElement(tag));
    made.textContent = text;
    if (className) made.className = className;
    return made;
  };

  // A cell's address: its chart, its row and its column by their heads, so that it leads to the same place in a later edition.
  const places = new Map();
  const addresses = new Map();
  const lastRow = (table) => table.tHead.rows[table.tHead.rows.length - 1];
  for (const cell of cells) {
    if (!cell.dataset.trace) continue;
    const table = cell.closest("table");
    const head = lastRow(table).cells[cell.cellIndex].innerText.split("\n")[0];
    let address = [table.id, cell.parentElement.cells[0].innerText, head].map((part) => encodeURIComponent(part.trim())).join("/");
    while (places.has(address)) address += "+"; // a head that stands twice
    places.set(address, cell);
    addresses.set(cell, address);
  }
  const linked = () => location.hash.slice(1);
  const plain = () => location.href.split("#")[0];

  const hide = () => {
    clearTimeout(resting); // else the address would come back after the panel is gone
    if (panel.hidden) return;
    panel.hidden = true;
    document.documentElement.classList.remove("open");
    dispatchEvent(new Event("cards-lay"));
    if (!opened) return;
    opened.classList.remove("told");
    silent = true;
    opened.focus({ preventScroll: true });
    silent = false;
    opened = null;
  };

  // Closing leaves the address as it was before the cell was opened: a step back if opening it was a step.
  const close = () => {
    const open = !panel.hidden;
    hide();
    if (!open || !linked().includes("/")) return;
    if (history.state === "opened") history.back();
    else history.replaceState(null, "", plain());
  };

  // A packed text: the number of its frame, and the figures that stand in it.
  const unpacked = (text) => {
    const [frame, ...figures] = text.split(" ");
    return data.frames[frame].split("\t").reduce((made, part, place) => made + figures[place - 1] + part);
  };

  const told = (trace, address) => {
    const [title, chosen, rounding, ...workings] = trace.slice(1).map(unpacked);
    panel.textContent = "";
    const top = add(panel, "div", "", "panel-top");
    add(top, "h2", title).tabIndex = -1;
    const button = add(top, "button", "Close");
    button.type = "button";
    button.addEventListener("click", close);
    for (const line of [...workings, rounding]) add(panel, "p", line);
    for (const id of data.on[trace[0]]) {
      const given = data.givens[id];
      add(panel, "p", given.value + ": " + given.says);
      for (const [key, locator] of given.cite) add(panel, "p", locator + ". " + data.references[key], "small");
    }
    if (chosen) add(panel, "p", "Chosen for this card: " + chosen, "small");
    add(panel, "a", "Link to this number", "small").href = "#" + address;
  };

  const show = (cell) => {
    if (silent) return;
    if (!cell.dataset.trace) return close();
    told(data.traces[cell.dataset.trace], addresses.get(cell));
    if (opened) opened.classList.remove("told");
    opened = cell;
    cell.classList.add("told");
    panel.scrollTop = 0;
    if (panel.hidden) {
      panel.hidden = false;
      document.documentElement.classList.add("open");
      dispatchEvent(new Event("cards-lay"));
    }
    cell.scrollIntoView({ block: "nearest", inline: "nearest", behavior: "instant" });
    const covered = cell.getBoundingClientRect().bottom - panel.getBoundingClientRect().top;
    if (covered > 0 && panel.getBoundingClientRect().left <= cell.getBoundingClientRect().left) scrollBy(0, covered + 1);
    clearTimeout(resting);
    if (linked().includes("/")) resting = setTimeout(() => history.replaceState(history.state, "", "#" + addresses.get(cell)), 250);
  };

  // A tap, or Enter: the address leads to this cell from now on, and the reader is taken to what is told.
  const open = (cell) => {
    if (!cell.dataset.trace) return;
    stop(cell);
    show(cell);
    clearTimeout(resting);
    const address = "#" + addresses.get(cell);
    if (linked().includes("/")) history.replaceState(history.state, "", address);
    else history.pushState("opened", "", address);
    panel.querySelector("h2").focus({ preventScroll: true });
  };

  const stop = (cell) => {
    for (const other of cell.closest("tbody").querySelectorAll("td[tabindex='0']")) other.tabIndex = -1;
    cell.tabIndex = 0;
  };

  const move = (cell, rows, columns) => {
    const row = cell.closest("tbody").rows[cell.parentElement.sectionRowIndex + rows];
    const next = row && row.cells[cell.cellIndex + columns];
    if (next && next.tagName === "TD") next.focus();
  };

  const arrows = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] };
  const keyed = (cell, event) => {
    const row = cell.parentElement.cells;
    if (arrows[event.key]) move(cell, ...arrows[event.key]);
    else if (event.key === "Home") row[1].focus();
    else if (event.key === "End") row[row.length - 1].focus();
    else if (event.key === "Enter" || event.key === " ") open(cell);
    else return;
    event.preventDefault();
  };

  for (const cell of cells) {
    cell.tabIndex = -1;
    cell.addEventListener("focus", () => {
      stop(cell);
      show(cell);
    });
    cell.addEventListener("mousedown", (event) => event.preventDefault()); // else the page may move under the finger before it is lifted
    cell.addEventListener("click", () => open(cell));
    cell.addEventListener("keydown", (event) => keyed(cell, event));
  }
  for (const body of document.querySelectorAll("tbody")) stop(body.querySelector("td"));
  panel.addEventListener("keydown", (event) => {
    if (!arrows[event.key] || !opened) return;
    event.preventDefault();
    move(opened, ...arrows[event.key]);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") close();
  });

  const follow = () => {
    const cell = places.get(linked());
    if (!cell) return hide();
    if (cell !== opened) show(cell);
  };
  addEventListener("popstate", follow);
  deck.lettered().then(() => {
    const place = CSS.escape(linked());
    const chart = place && document.querySelector("table#" + place + ", table[id^='" + place + "-1-of-']"); // or the first part of a split one
    if (chart) chart.scrollIntoView();
    if (linked().includes("/") && !places.has(linked())) missing();
    follow();
  });

  const missing = () => {
    const told = document.getElementById("missing");
    told.hidden = false;
    history.replaceState(null, "", plain());
  };

  const { card } = document.documentElement.dataset;
  deck.keepWords("opened", [card, ...deck.words("opened").filter((other) => other !== card)].slice(0, 3));
})();
