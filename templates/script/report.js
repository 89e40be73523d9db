"use strict";
/* Picking, sorting and walking. All that the pages say is there without it; nothing is fetched or kept. */
(() => {
  const KEYS = ["level", "day", "lens", "rig"];
  const rows = () => [...document.querySelectorAll("tr[data-level]")];
  const form = document.querySelector("[data-choose]");
  const keys = document.querySelector("input[name=keys]");

  /* What is picked stands behind the #, so that a link can carry it: frames.html#level=act&day=2 */
  const asked = () => new URLSearchParams(location.hash.includes("=") ? location.hash.slice(1) : "");

  const fits = (row, picked) => KEYS.every(
    key => !picked[key] || (row.dataset[key] || "").split(" ").includes(picked[key])
  );

  const away = (element, gone) => element.toggleAttribute("data-away", gone);

  function pick() {
    const picked = Object.fromEntries(KEYS.map(key => [key, form.elements[key] ? form.elements[key].value : ""]));
    const all = rows();
    let shown = 0;
    for (const row of all) {
      const gone = !fits(row, picked);
      away(row, gone);
      if (row.classList.contains("shown-below")) away(row.nextElementSibling, gone);
      if (!gone) shown += 1;
    }
    for (const group of document.querySelectorAll("article.finding")) {
      away(group, !group.querySelector("tr[data-level]:not([data-away])"));
    }
    for (const level of document.querySelectorAll("section.level:has(article.finding)")) {
      away(level, !level.querySelector("article.finding:not([data-away])"));
    }
    const told = form.querySelector("output");
    told.textContent = told.dataset.shown.replace("{n}", shown).replace("{m}", all.length);
    return picked;
  }

  function remember(picked) {
    const set = new URLSearchParams(Object.entries(picked).filter(([, value]) => value));
    history.replaceState(null, "", `#${set}`);
  }

  /* Picks what the address says. A link into the page shows where it leads, whatever was picked. */
  function restore(event) {
    const target = location.hash.includes("=") ? null : document.getElementById(location.hash.slice(1));
    if (event && target && !target.closest("[data-away]")) return;
    for (const select of form.querySelectorAll("select")) {
      select.value = asked().get(select.name) || "";
      if (select.selectedIndex < 0) select.value = "";
    }
    pick();
    if (event && target) target.scrollIntoView();
  }

  /* Skips without the address, in which the pick stands. */
  function skip(event) {
    event.preventDefault();
    const to = document.querySelector(event.currentTarget.getAttribute("href"));
    to.focus();
    to.scrollIntoView();
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

  const words = new Intl.Collator(document.documentElement.lang, { numeric: true });

  /* What a cell is sorted by: data-order where its words would sort otherwise, as a date in words does. */
  const held = cell => cell.getAttribute("data-order") ?? cell.textContent.trim();

  /* A number as it is written: with a minus sign, and with a comma in some languages. */
  const amount = text => Number(text.replace("\u2212", "-").replace(",", "."));

  /* Empty cells come last whichever way is sorted; equal ones keep their order. */
  function sort(table, heads, head, column) {
    const down = head.getAttribute("aria-sort") === "ascending";
    const number = "number" in head.dataset;
    const order = number ? (a, b) => a - b : words.compare;
    const body = table.tBodies[0];
    const read = [...body.rows].map(row => {
      const text = held(row.children[column]);
      return [text === "", number ? amount(text) : text, row];
    });
    read.sort(([noA, a], [noB, b]) => noA - noB || (down ? order(b, a) : order(a, b)));
    body.remove();
    body.append(...read.map(([, , row]) => row));
    table.append(body);
    heads.forEach(each => each.removeAttribute("aria-sort"));
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
  }

  const STOPS = "tr[data-level]:not([data-away]), [data-walk], article.frame.act, article.frame.look, article.frame.note";

  /* Where walking goes on from: what has the focus, else where the link led that opened the page. */
  function here() {
    const at = document.activeElement;
    if (at && at.closest("form.walk")) return null;
    return at && at !== document.body ? at : document.getElementById(location.hash.slice(1));
  }

  const isAfter = from => stop => !from
    || (from.compareDocumentPosition(stop) & Node.DOCUMENT_POSITION_FOLLOWING) !== 0;

  const isBefore = from => stop => from && !stop.contains(from)
    && (from.compareDocumentPosition(stop) & Node.DOCUMENT_POSITION_PRECEDING) !== 0;

  function walk(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || !["j", "k"].includes(event.key)) return;
    if (event.target.closest("input:not([type=checkbox]), select, textarea")) return;
    if (!keys.checked) return;
    const stops = [...document.querySelectorAll(STOPS)];
    const next = event.key === "j" ? stops.find(isAfter(here())) : stops.findLast(isBefore(here()));
    if (!next) return;
    next.focus();
    next.scrollIntoView({ block: "nearest" });
    event.preventDefault();
  }

  document.querySelectorAll("table[data-sort]").forEach(sortable);
  for (const one of document.querySelectorAll("form")) {
    one.hidden = false;
    one.addEventListener("submit", event => event.preventDefault());
  }
  if (keys) document.addEventListener("keydown", walk);
  if (form) {
    form.addEventListener("change", event => { if (event.target !== keys) remember(pick()); });
    document.querySelector(".skip").addEventListener("click", skip);
    addEventListener("hashchange", restore);
    restore();
  }
})();
