"use strict";
// Finds cards by parts of names, keeps favorites, lists what was opened last, and lets a web server's copy work offline.
(() => {
  const cards = [...document.querySelectorAll("#cards > li")];
  const field = document.getElementById("find");
  document.querySelector(".find").hidden = false;

  // As typed without thinking: EPINEPHrine is found by epinephrine, and words stand in any order.
  const folded = (text) => text.toLowerCase().normalize("NFKD").replace(/[\u0300-\u036f]/g, "");
  const has = (text, parts) => parts.every((part) => text.includes(part));

  const find = () => {
    const parts = folded(field.value).split(/\s+/).filter(Boolean);
    let any = false;
    for (const card of cards) {
      const title = folded(card.querySelector("strong").textContent);
      let found = has(title, parts);
      for (const link of card.querySelectorAll(".charts a")) {
        const hit = parts.length > 0 && has(title + " " + folded(link.textContent + " " + link.dataset.class), parts);
        link.parentElement.hidden = !hit;
        found = found || hit;
      }
      card.hidden = !found;
      card.querySelector(".charts").hidden = !parts.length;
      any = any || found;
    }
    const nothing = document.getElementById("nothing");
    nothing.textContent = any ? "" : nothing.dataset.says;
    for (const id of ["favorites", "opened"]) list(id, parts.length ? [] : deck.words(id));
  };

  const list = (id, names) => {
    const section = document.getElementById(id);
    const links = names.map((name) => document.getElementById(name)).filter((card) => cards.includes(card));
    section.hidden = !links.length;
    section.querySelector("ul").replaceChildren(
      ...links.map((card) => {
        const link = document.createElement("a");
        link.href = card.querySelector(".card").getAttribute("href");
        link.textContent = card.querySelector("strong").textContent;
        const item = document.createElement("li");
        item.append(link);
        return item;
      }),
    );
  };

  const star = (card) => {
    const button = card.querySelector(".keep");
    button.hidden = false;
    button.setAttribute("aria-pressed", deck.words("favorites").includes(card.id));
    button.addEventListener("click", () => {
      const others = deck.words("favorites").filter((name) => name !== card.id);
      const on = button.getAttribute("aria-pressed") !== "true";
      deck.keepWords("favorites", on ? [...others, card.id] : others);
      button.setAttribute("aria-pressed", on);
      find();
    });
  };

  field.addEventListener("input", find);
  field.addEventListener("keydown", (event) => {
    if (event.key === "Escape") field.value = "";
    if (event.key === "Escape") find();
    const first = document.querySelector("#cards > li:not([hidden]) :is(.charts li:not([hidden]) a)") || document.querySelector("#cards > li:not([hidden]) a");
    if (event.key === "Enter" && field.value && first) location.assign(first.href);
  });
  cards.forEach(star);
  addEventListener("pageshow", find);
  find();

  // From a file there is no server to be away from, and a page may not even ask for its manifest.
  if (!deck.served) return;
  deck.attach("manifest", "manifest.webmanifest");
  deck.attach("apple-touch-icon", "icon-192.png");
  if (navigator.serviceWorker) navigator.serviceWorker.register("worker.js", { updateViaCache: "none" }).catch(() => {});
})();
