"use strict";
(() => {
  const tools = document.getElementById("tools");
  if (!tools) return;
  const field = document.getElementById("search");
  const keys = document.getElementById("keys");
  const count = document.getElementById("count");
  const section = document.getElementById("findings");
  const found = [...section.querySelectorAll(".finding")];
  const plain = (text) => text.toLowerCase().replace(/(\d),(?=\d{3})/g, "$1"); // 12,345 is 12345
  const texts = new Map(found.map((one) => [one, plain(one.textContent)]));
  const ticks = [...tools.querySelectorAll("[data-for]")];

  function apply() {
    const words = plain(field.value).split(/\s+/).filter(Boolean);
    const levels = new Set(ticks.filter((tick) => tick.checked).map((tick) => tick.dataset.for));
    let shown = 0;
    for (const one of found) {
      const fits = levels.has(one.dataset.level) && words.every((w) => texts.get(one).includes(w));
      one.hidden = !fits;
      shown += fits ? 1 : 0;
    }
    for (const group of section.querySelectorAll(".area, .level-group")) {
      group.hidden = !group.querySelector(".finding:not([hidden])");
    }
    count.textContent = `${shown} of ${found.length} findings shown`;
  }

  function step(way) {
    const seen = found.filter((one) => !one.hidden);
    const at = seen.findIndex((one) => one.contains(document.activeElement));
    const next = at < 0 ? (way > 0 ? 0 : seen.length - 1) : at + way;
    if (seen[next]) seen[next].focus();
  }

  function pointedAt() {
    const one = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (one && one.closest("[hidden]") && section.contains(one)) {
      field.value = "";
      for (const tick of ticks) tick.checked = true;
      apply();
    }
    const closed = one && one.closest("details:not([open])");
    if (closed) closed.open = true;
    if (one) one.scrollIntoView();
  }

  document.addEventListener("keydown", (event) => {
    if (event.target === field && event.key === "Escape") {
      field.value = "";
      apply();
      return;
    }
    const typing = event.target.matches("input[type=search]");
    if (!keys.checked || typing || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "/") {
      event.preventDefault();
      field.focus();
    } else if (event.key === "n") step(1);
    else if (event.key === "p") step(-1);
  });
  tools.addEventListener("submit", (event) => event.preventDefault());
  field.addEventListener("input", apply);
  for (const tick of ticks) tick.addEventListener("change", apply);
  window.addEventListener("hashchange", pointedAt);
  tools.hidden = false;
  apply();
  if (location.hash) pointedAt();
})();
