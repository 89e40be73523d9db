"use strict";
/* Picking, sorting and walking. All that the pages say is there without it; nothing is fetched or kept. */
(() => {
  const KEYS = ["level", "day", "lens", "rig"];
  const rows = () => [...document.querySelectorAll("tr[data-level]")];
  const form = document.querySelector("[data-choose]");

  /* What is picked stands behind the #, so that a link can carry it: frames.html#level=act&day=2 */
  const asked = () => new URLSearchParams(location.hash.includes("=") ? location.hash.slice(1) : "");

  const fits = (row, picked) => KEYS.every(
    key => !picked[key] || (row.dataset[key] || "").split(" ").includes(picked[key])
  );

  const away = (element, gone) => element.toggleAttribute("data-away", gone);

  function pick() {
    const picked = Object.fromEntries(KEYS.map(key => [key, form.elements[key] ? form.elements[key].value : ""]));
    let shown = 0;
    for (const row of rows()) {
      const gone = !fits(row, picked);
      away(row, gone);
      if (row.classList.contains("shown-below")) away(row.nextElementSibling, gone);
      if (!gone) shown += 1;
    }
    for (const group of document.querySelectorAll("article.finding")) {
      away(group, !group.querySelector("tr[data-level]:not([data-away])"));
    }
    form.querySelector("output").textContent = `${shown} of ${rows().length} shown`;
    return picked;
  }

  function remember(picked) {
    const set = new URLSearchParams(Object.entries(picked).filter(([, value]) => value));
    history.replaceState(null, "", `#${set}`);
  }

  function restore() {
    if (location.hash && !location.hash.includes("=")) return;
    for (const key of KEYS) if (form.elements[key]) form.elements[key].value = asked().get(key) || "";
    pick();
  }

  function sortable(table) {
    const heads = [...table.tHead.rows[0].cells];
    heads.forEach((head, column) => {
      const button = document.createElement("button");
      button.type = "button";
      button.append(...head.childNodes);
      head.append(button);
      button.addEventListener("click", () => sort(table, heads, head, column));
    });
  }

  const words = new Intl.Collator("en", { numeric: true });

  /* Empty cells come last whichever way is sorted; equal ones keep their order. */
  function sort(table, heads, head, column) {
    const down = head.getAttribute("aria-sort") === "ascending";
    const value = row => row.cells[column].textContent.trim().replace("\u2212", "-");
    const number = "number" in head.dataset;
    const order = (a, b) => (number ? a - b : words.compare(a, b)) * (down ? -1 : 1);
    const read = [...table.tBodies[0].rows].map(row => [value(row), row]);
    read.sort(([a], [b]) => (a === "") - (b === "") || order(a, b));
    const body = table.tBodies[0];
    body.remove();
    body.append(...read.map(([, row]) => row));
    table.append(body);
    heads.forEach(each => each.removeAttribute("aria-sort"));
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
  }

  const STOPS = "tr[data-level]:not([data-away]), tr[data-walk], article.frame.act, article.frame.look, article.frame.note";

  function walk(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || !["j", "k"].includes(event.key)) return;
    if (event.target.closest("input:not([type=checkbox]), select, textarea")) return;
    if (form && !form.elements.keys.checked) return;
    const stops = [...document.querySelectorAll(STOPS)];
    if (!stops.length) return;
    const at = stops.findIndex(stop => stop === document.activeElement || stop.contains(document.activeElement));
    const next = stops[event.key === "j" ? Math.min(at + 1, stops.length - 1) : Math.max(at - 1, 0)];
    next.focus();
    next.scrollIntoView({ block: "nearest" });
    event.preventDefault();
  }

  document.querySelectorAll("table[data-sort]").forEach(sortable);
  document.addEventListener("keydown", walk);
  if (form) {
    form.hidden = false;
    form.addEventListener("submit", event => event.preventDefault());
    form.addEventListener("change", event => { if (event.target.name !== "keys") remember(pick()); });
    addEventListener("hashchange", restore);
    restore();
    if (location.hash && !location.hash.includes("=")) pick();
  }
})();
