"use strict";
// A number cut by the edge of the screen would read as another number: 126 as 12. So a chart that is wider than the screen gets columns
// of one width, a whole number of which fill the frame; the frame scrolls from column to column, and says where more of them follow.
(() => {
  const make = (parent, text, className) => {
    const button = parent.appendChild(document.createElement("button"));
    button.type = "button";
    button.tabIndex = -1; // keys go from cell to cell
    button.className = className;
    button.textContent = text;
    return button;
  };

  const sides = (frame) => {
    const line = document.createElement("div");
    line.className = "sides phone";
    const room = () => frame.clientWidth - frame.querySelector("tbody th").offsetWidth;
    make(line, "« columns before", "before").addEventListener("click", () => frame.scrollBy({ left: -room() }));
    make(line, "more columns »", "after").addEventListener("click", () => frame.scrollBy({ left: room() }));
    frame.before(line);
    frame.addEventListener("scroll", () => tell(frame), { passive: true });
    return line;
  };

  const tell = (frame) => {
    const line = frame.previousElementSibling;
    const wide = frame.classList.contains("laid");
    line.hidden = !wide;
    line.querySelector(".before").disabled = frame.scrollLeft <= 1;
    line.querySelector(".after").disabled = frame.scrollLeft + frame.clientWidth >= frame.scrollWidth - 1;
  };

  const lay = (frame) => {
    const table = frame.firstElementChild;
    const set = (name, value) => frame.style.setProperty(name, value);
    const at = frame.scrollLeft;
    frame.classList.remove("laid", "fits");
    const [row, ...columns] = [...table.tHead.rows[table.tHead.rows.length - 1].cells].map((head) => head.getBoundingClientRect().width);
    const fits = table.getBoundingClientRect().width <= frame.clientWidth + 1;
    frame.classList.add(fits ? "fits" : "laid");
    if (!fits) {
      const widest = columns.sort((one, other) => other - one)[0];
      let whole = 1;
      for (let used = row + widest + widest; used <= frame.clientWidth; used += widest) whole += 1;
      set("--row", row + "px");
      set("--whole", whole);
      set("--count", columns.length);
      frame.scrollLeft = at;
    }
    tell(frame);
  };

  const frames = [...document.querySelectorAll(".scroll")];
  const main = document.querySelector("main");
  let laidFor = 0;
  const layAll = () => {
    document.documentElement.style.setProperty("--bar", document.querySelector(".bar").offsetHeight + "px");
    if (main.clientWidth === laidFor) return;
    laidFor = main.clientWidth;
    frames.forEach(lay);
  };
  frames.forEach(sides);
  deck.lettered().then(() => {
    laidFor = 0; // what was laid before was measured in another typeface
    layAll();
  });
  addEventListener("resize", layAll);
  addEventListener("cards-lay", layAll);
  new ResizeObserver(layAll).observe(document.querySelector(".bar"));
})();
