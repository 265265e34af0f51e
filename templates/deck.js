"use strict";
// What every page of the deck does: keeps the night screen, says by the phone's own date whether the edition still holds, and remembers
// what the reader chose. It runs before anything is drawn, so that no white page flashes at night.
const deck = (() => {
  const root = document.documentElement;

  // Storage is refused on some phones (private windows, pages opened from a file): then nothing is remembered, and all else works.
  const read = (name) => {
    try {
      return localStorage.getItem("cardwright " + name) || "";
    } catch {
      return "";
    }
  };
  const keep = (name, text) => {
    try {
      localStorage.setItem("cardwright " + name, text);
    } catch {
      return;
    }
  };
  const words = (name) => read(root.dataset.edition + " " + name).split(" ").filter(Boolean);
  const keepWords = (name, list) => keep(root.dataset.edition + " " + name, list.join(" "));

  const night = (on) => {
    root.toggleAttribute("data-night", on);
    const button = document.getElementById("night");
    if (button) button.setAttribute("aria-pressed", on);
  };
  night(read("night") === "on");

  const today = () => {
    const now = new Date();
    const two = (number) => String(number).padStart(2, "0");
    return [now.getFullYear(), two(now.getMonth() + 1), two(now.getDate())].join("-");
  };

  const judge = () => {
    const band = document.getElementById("status");
    if (today() <= band.dataset.until) return;
    band.textContent = band.dataset.later;
    root.dataset.over = root.dataset.status;
    if (root.dataset.status === "approved")
      for (const foot of document.querySelectorAll(".says")) foot.textContent = band.dataset.later + ".";
  };

  const start = () => {
    const button = document.getElementById("night");
    button.hidden = false;
    night(root.hasAttribute("data-night"));
    button.addEventListener("click", () => {
      night(!root.hasAttribute("data-night"));
      keep("night", root.hasAttribute("data-night") ? "on" : "off");
    });
    judge();
    for (const moment of ["visibilitychange", "pageshow", "focus"]) addEventListener(moment, judge);
    const worker = navigator.serviceWorker;
    if (!worker || !worker.controller) return;
    const newer = document.getElementById("newer");
    newer.addEventListener("click", () => location.reload());
    worker.addEventListener("controllerchange", () => (newer.hidden = false));
  };
  document.addEventListener("DOMContentLoaded", start);

  // When the page's own typeface is there to be measured: document.fonts.ready may be told before its loading has begun.
  const lettered = () => Promise.allSettled([...document.fonts].map((face) => face.load()));

  // A page that was opened from a file asks for nothing; one from a server has the deck's files beside it.
  const served = location.protocol.startsWith("http");
  const attach = (rel, file) => {
    const link = document.head.appendChild(document.createElement("link"));
    link.rel = rel;
    link.href = (root.dataset.card ? "../" : "") + file;
  };
  if (served) attach("icon", "icon-192.png");
  return { words, keepWords, lettered, served, attach };
})();
