"use strict";
/* Narrowing, sorting, picking and walking. All that the pages say is there without it, and nothing is kept: what the
   reader chose stands behind the # of the address and only there. Each act writes it (`go`), and `show` makes the
   page as it says; Back and a link do the same. Rows are whatever has data-is; data-frame holds their frames' numbers. */
(() => {
  const every = (what, from = document) => [...from.querySelectorAll(what)];
  const one = what => document.querySelector(what);
  const form = one("[data-choose]"), bar = one("[data-picked]"), help = one("dialog.keys");
  const table = one("table[data-sort]"), keys = one("input[name=keys]");
  const numbers = row => row.dataset.frame.split(" ").filter(Boolean);
  const rows = every("[data-is]").map(row => ({
    row, is: row.dataset.is.split(" "), frames: numbers(row), there: 0, tile: row.id && one(`[data-of="${row.id}"]`),
  }));
  const SHOWN = "[data-is]:not([data-away])";

  /* The address: key=value pairs; a plain #anchor is a place to go to. */
  function read() {
    const told = location.hash.slice(1);
    return new URLSearchParams(told.includes("=") || !told ? told : { at: decodeURIComponent(told) });
  }

  let running = "";

  /* Steps of one kind in a row (letters of a word, frame by frame) are one step for Back. */
  function go(change, kind = "") {
    const next = read();
    next.delete("at");
    for (const [key, value] of Object.entries(change)) value ? next.set(key, value) : next.delete(key);
    history[kind && kind === running ? "replaceState" : "pushState"](null, "", `#${next}`);
    running = kind;
    show();
  }

  /* Picked frames as written: 3-7.12 */
  const gathered = picked => {
    const runs = [];
    for (const n of [...picked].map(Number).sort((a, b) => a - b)) {
      const run = runs.at(-1);
      if (run && run[1] === n - 1) run[1] = n; else runs.push([n, n]);
    }
    return runs.map(([a, b]) => a === b ? `${a}` : `${a}-${b}`).join(".");
  };

  function spread(written) {
    const picked = new Set();
    for (const run of (written || "").split(".")) {
      const [first, last = first] = run.split("-").map(Number);
      if (first > 0 && last < 1e6) for (let n = first; n <= last; n += 1) picked.add(`${n}`);
    }
    return picked;
  }

  function show() {
    const asked = read(), picked = spread(asked.get("picked"));
    if (form) {
      for (const field of every("select[data-facet], input[type=search]", form)) fill(field, asked.get(field.name) || "");
      narrow(asked, picked);
      sort(asked.get("sort") || "");
    }
    if (bar) mark(asked, picked);
    keys.checked = !asked.get("keys");
  }

  function fill(field, value) {
    if (field.value !== value) field.value = value;
    if (field.selectedIndex < 0) field.value = "";
    const folded = field.value && field.closest("details");
    if (folded) folded.open = true;
  }

  /* What is searched for words: what a row shows, not what unfolds. */
  const words = each => each.words ??= (each.row.querySelector("details") ? [...each.row.children] : [each.row])
    .filter(e => e.localName !== "details" && e.className !== "more").map(e => e.textContent).join(" ").toLowerCase();

  let narrowed = null;

  function narrow(asked, picked) {
    const marks = every("select[data-facet]", form).filter(s => s.value).map(s => `${s.name}.${s.value}`);
    const looked = (asked.get("text") || "").toLowerCase().split(/\s+/).filter(Boolean);
    const only = asked.get("only") && picked.size ? picked : null, wish = [...marks, "", ...looked, "", ...only || []].join();
    if (wish === narrowed) return;
    narrowed = wish;
    let shown = 0;
    for (const each of rows) {
      const fits = marks.every(mark => each.is.includes(mark)) && looked.every(word => words(each).includes(word))
        && (!only || each.frames.some(n => picked.has(n)));
      shown += fits;
      if (fits === !each.away) continue;
      each.away = !fits;
      each.row.toggleAttribute("data-away", !fits);
      if (each.tile) each.tile.toggleAttribute("data-away", !fits);
      if (each.row.classList.contains("shown-below")) each.row.nextElementSibling.toggleAttribute("data-away", !fits);
    }
    for (const group of every("article.finding, section.level, section.setup")) {
      group.toggleAttribute("data-away", Boolean(group.querySelector("[data-is]")) && !group.querySelector(SHOWN));
    }
    for (const link of every("nav.folders a[href^='#']")) {
      const to = document.getElementById(link.hash.slice(1));
      link.parentElement.toggleAttribute("data-away", Boolean(to?.closest("[data-away]")));
    }
    const told = one("[data-shown]");
    told.textContent = told.dataset.shown.replace("{n}", shown).replace("{m}", rows.length);
    form.elements.widen.hidden = shown === rows.length;
    form.elements.take.hidden = !shown;
  }

  /* Sorting. Empty cells come last whichever way; equal ones keep their order in time. */
  const lines = table ? [...table.tBodies[0].rows] : [];
  const columns = [];
  const heads = table ? [...table.tHead.rows[0].cells] : [];
  const collator = new Intl.Collator(document.documentElement.lang, { numeric: true });

  /* What a cell is sorted by: data-order where its words would sort otherwise, as a date in words does. */
  const held = cell => cell.getAttribute("data-order") ?? cell.textContent.trim();

  /* A number as it is written: with a minus sign, and with a comma in some languages. */
  const amount = text => Number(text.replace("\u2212", "-").replace(",", "."));

  function inOrder(column, down) {
    const number = "number" in heads[column].dataset;
    const order = number ? (a, b) => a - b : collator.compare;
    const told = columns[column] ??= lines.map(row => {
      const text = held(row.children[column]);
      return [text === "", number ? amount(text) : text, row];
    });
    return told.toSorted(([noA, a], [noB, b]) => noA - noB || (down ? order(b, a) : order(a, b))).map(([, , row]) => row);
  }

  let sorted = "";

  function sort(by) {
    if (!table || by === sorted) return;
    sorted = by;
    const down = by.startsWith("-"), column = heads.findIndex(head => head.dataset.by === by.slice(down));
    const body = table.tBodies[0];
    body.remove();
    for (const row of column < 0 ? lines : inOrder(column, down)) body.append(row);
    table.append(body);
    heads.forEach(head => head.removeAttribute("aria-sort"));
    if (column >= 0) heads[column].setAttribute("aria-sort", down ? "descending" : "ascending");
    if (form && form.elements.sort) form.elements.sort.value = [by || "time", ""].find(v => has(form.elements.sort, v));
  }

  const has = (select, value) => [...select.options].some(option => option.value === value);

  function sortable(head, column) {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    head.dataset.by ??= `${column}`;
    button.addEventListener("click", () => {
      const by = head.dataset.by;
      if (form) go({ sort: sorted === by ? `-${by}` : by }); else sort(sorted === by ? `-${by}` : by);
    });
  }

  /* Picking. A box before each row; Shift takes all from the row that was touched last. */
  function boxed(each) {
    const box = document.createElement("input"), name = each.row.querySelector("bdi");
    box.type = "checkbox";
    box.className = "box";
    box.setAttribute("aria-label", each.frames.length > 1 || !name ? form.dataset.pickRow
      : form.dataset.pick.replace("{frame}", name.textContent));
    each.box = box;
    box.addEventListener("click", event => take(upTo(each.row, event.shiftKey), box.checked));
    (each.row.querySelector("th, td") || each.row).prepend(box);
  }

  let last = null;

  function upTo(row, further) {
    if (!further || !last) return [last = row];
    const there = every(SHOWN), ends = [last, row].map(each => there.indexOf(each)).sort((a, b) => a - b);
    last = row;
    return ends[0] < 0 ? [row] : there.slice(ends[0], ends[1] + 1);
  }

  function take(some, on) {
    const picked = spread(read().get("picked"));
    for (const n of some.flatMap(numbers)) on ? picked.add(n) : picked.delete(n);
    go({ picked: gathered(picked) }, "picked");
  }

  function mark(asked, picked) {
    const seen = new Set();
    for (const each of rows) {
      let there = 0;
      for (const n of each.frames) if (picked.has(n) && seen.add(n)) there += 1;
      if (there === each.there) continue;
      each.there = there;
      each.box.checked = there === each.frames.length;
      each.box.indeterminate = there > 0 && there < each.frames.length;
      each.row.toggleAttribute("data-taken", there > 0);
    }
    bar.hidden = !picked.size;
    document.documentElement.toggleAttribute("data-bar", !bar.hidden);
    bar.elements.only.checked = Boolean(asked.get("only"));
    say(seen.size < picked.size ? "elsewhere" : "count", picked.size, seen.size);
  }

  const say = (which, n, m = 0, what = "") => {
    const told = bar.querySelector("output");
    told.textContent = told.dataset[which].replace("{n}", n).replace("{m}", m).replace("{what}", what);
  };

  /* Names, lines of keep.txt and files of all frames: a file that is asked for only now. */
  const listed = () => window.reportFrames ? Promise.resolve() : new Promise((done, failed) => {
    const script = document.createElement("script");
    script.addEventListener("load", done);
    script.addEventListener("error", failed);
    script.src = "frames.js";
    document.head.append(script);
  });

  const WAYS = {
    copy: { of: ([name]) => [name], to: text => navigator.clipboard.writeText(text) },
    keep: { of: ([, line]) => [line], to: text => save("keep.txt", `# ${bar.dataset.note}\n${text}`) },
    paths: { of: ([, , files]) => files.length ? files : [""], to: text => save("paths.txt", text) },
  };

  async function write(button) {
    try {
      await listed();
      const frames = [...spread(read().get("picked"))].sort((a, b) => a - b).map(n => window.reportFrames[n - 1]);
      const told = frames.filter(Boolean).flatMap(WAYS[button.name].of), plain = told.filter(Boolean);
      await WAYS[button.name].to(plain.map(line => `${line}\n`).join(""));
      say(plain.length < told.length ? "left" : "done", plain.length, told.length - plain.length, button.textContent);
    } catch {
      say("failed");
    }
  }

  function save(name, text) {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text], { type: "text/plain" }));
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1e4);
  }

  /* Links. One into the page keeps what was chosen, one to another page takes the picked frames along. */
  function follow(event) {
    const link = event.target.closest?.("a[href]"), asked = read();
    if (!link) return;
    const [file, at] = link.getAttribute("href").split("#");
    asked.delete("at");
    if (!file && `${asked}` && event.type === "click" && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
      event.preventDefault();
      go({ at });
      arrive();
    }
    if (!/^[\w-]+\.html$/.test(file)) return;
    const place = new URLSearchParams(!at || at.includes("=") ? at : { at });
    for (const key of ["picked", "keys"]) asked.get(key) ? place.set(key, asked.get(key)) : place.delete(key);
    const [[key, alone] = []] = place, plain = key === "at" && place.size === 1;
    link.setAttribute("href", place.size ? `${file}#${plain ? alone : place}` : file);
  }

  /* Shows where a link leads, whatever the list was narrowed to. */
  function arrive() {
    every("[data-here]").forEach(each => each.removeAttribute("data-here"));
    const asked = read(), target = document.getElementById(asked.get("at") || "");
    if (!target) return;
    if (target.closest("[data-away]")) {
      const kept = ["picked", "sort", "keys"].filter(key => asked.get(key)).map(key => [key, asked.get(key)]);
      const alone = `${new URLSearchParams([["at", target.id], ...kept])}`;
      history.replaceState(null, "", kept.length ? `#${alone}` : `#${target.id}`);
      show();
    }
    target.focus({ preventScroll: true });
    target.scrollIntoView();
    if (target.id !== "main") target.toggleAttribute("data-here", true);
  }

  /* Walking: from what has the focus, else from where the link led that opened the page. */
  const FOUND = `${SHOWN}:not([data-is~="level.none"]), [data-walk]`;

  function here() {
    const at = document.activeElement;
    return at && at !== document.body ? at : document.getElementById(read().get("at") || "");
  }

  const follows = (a, b) => (a.compareDocumentPosition(b) & Node.DOCUMENT_POSITION_FOLLOWING) !== 0;

  function next(what, on) {
    const from = here(), stops = every(what);
    const found = on ? stops.find(stop => !from || follows(from, stop))
      : stops.findLast(stop => from && follows(stop, from) && !stop.contains(from));
    if (!found) return null;
    found.focus({ preventScroll: true });
    found.scrollIntoView({ block: "nearest" });
    return found;
  }

  function onRow(event, row) {
    const arrow = { ArrowDown: true, ArrowUp: false }[event.key];
    if (arrow !== undefined) {
      const to = next(`${SHOWN}, [data-walk]`, arrow);
      if (to && event.shiftKey) take([row, to].filter(each => each.dataset.frame), true);
      return Boolean(to);
    }
    if (event.target !== row) return false;
    if (event.key === " " && row.dataset.frame) take(upTo(row, event.shiftKey), !row.hasAttribute("data-taken"));
    else if (event.key === "Enter") (row.querySelector("[data-open]") || row.querySelector("a[href]"))?.click();
    else if (event.key === "Escape") row.blur();
    else return false;
    return true;
  }

  function anywhere(event) {
    if (!keys.checked) return false;
    if (event.key === "?") return help.showModal(), true;
    if (event.key === "/" && form) return form.elements.text.focus(), form.scrollIntoView({ block: "nearest" }), true;
    if (event.key === "." || event.key === ",") return Boolean(next(FOUND, event.key === "."));
    return false;
  }

  function press(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || help.open) return;
    if (event.target.matches("input:not([type=checkbox]), select, textarea")) {
      const field = event.target.name === "text" && event.target;
      if (field && event.key === "Escape" && !field.value) field.blur();
      else if (field && ["Enter", "ArrowDown"].includes(event.key)) event.preventDefault(one(SHOWN)?.focus());
      return;
    }
    const row = event.target.closest("[data-is], [data-walk]");
    if (row && onRow(event, row) || anywhere(event)) event.preventDefault();
  }

  heads.forEach(sortable);
  for (const each of [form, bar]) each?.addEventListener("submit", event => event.preventDefault());
  if (form) {
    form.hidden = false;
    every("details", form).forEach(each => { each.open = "unfold" in each.dataset && matchMedia("(min-width: 62rem)").matches; });
    if (bar) rows.filter(each => each.frames.length).forEach(boxed);
    form.addEventListener("input", event => event.target.name === "text" && go({ text: event.target.value }, "text"));
    form.addEventListener("change", event => event.target.name !== "text" && go({ [event.target.name]: event.target.value }));
    form.elements.widen.addEventListener("click", () => {
      go(Object.fromEntries(["text", "only", ...every("select[data-facet]", form).map(s => s.name)].map(name => [name, ""])));
    });
    form.elements.take.addEventListener("click", () => {
      take(every(SHOWN), true);
    });
  }
  if (bar) {
    bar.elements.only.addEventListener("change", event => go({ only: event.target.checked ? "1" : "" }));
    bar.elements.drop.addEventListener("click", () => go({ picked: "", only: "" }));
    every("button", bar).filter(b => b.name in WAYS).forEach(b => b.addEventListener("click", () => write(b)));
  }
  if (keys) {
    const opener = one("[data-keys]");
    opener.hidden = !one("[data-is], [data-walk]");
    opener.addEventListener("click", () => help.showModal());
    keys.addEventListener("change", () => go({ keys: keys.checked ? "" : "off" }));
    document.addEventListener("keydown", press);
    document.addEventListener("click", follow);
    document.addEventListener("pointerdown", follow);
    addEventListener("hashchange", () => { running = ""; show(); arrive(); });
    show();
    if (read().get("at")) arrive();
  }
})();
