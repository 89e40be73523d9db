/* The print desk: paper, ppi, border and copies are chosen once, for all pictures. The page says the sizes
   at 300 ppi without it; nothing is fetched, and what is chosen stands in the address. */
(() => {
  const form = document.querySelector("[data-desk]");
  if (!form) return;
  form.hidden = false;
  form.addEventListener("submit", event => event.preventDefault());
  const MM_PER_INCH = 25.4, UNDER_MAT_MM = 3;
  const table = document.querySelector("[data-prints]");
  const prints = [...table.querySelectorAll("[data-print]")];
  const last = table.querySelector(".desk-last");
  const box = print => print.querySelector(".print-pick");
  const fields = ["paper", "ppi", "edge", "copies", "order"];
  const first = Object.fromEntries(fields.map(name => [name, form.elements[name].value]));

  const figures = new Intl.NumberFormat(document.documentElement.lang, { maximumFractionDigits: 1 });
  const area = new Intl.NumberFormat(document.documentElement.lang, { maximumFractionDigits: 2 });
  const put = (words, values) => words.replace(/\{(\w+)\}/g, (all, name) => values[name] ?? all);

  function chosen() {
    const at = Object.fromEntries(fields.map(name => [name, form.elements[name].value]));
    const sides = at.paper ? at.paper.split("x").map(Number) : null;
    const option = form.elements.paper.selectedOptions[0];
    const copies = Math.min(99, Math.max(1, Math.round(Number(at.copies)) || 1));
    return {
      sides, copies, ppi: Number(at.ppi), mat: at.edge === "mat",
      border: at.edge === "mat" ? 0 : Number(at.edge), paper: option.dataset.plain || "",
    };
  }

  /* Width and height in mm and the ppi that they come to; null where the pixels are not known. */
  function sized(print, how) {
    const w = Number(print.dataset.w), h = Number(print.dataset.h);
    if (!w || !h) return null;
    let mm = MM_PER_INCH / how.ppi;
    if (how.sides) {
      const [short, long] = how.sides.map(side => side - 2 * how.border);
      mm = Math.min(short / Math.min(w, h), long / Math.max(w, h));
    }
    return { w: w * mm, h: h * mm, ppi: MM_PER_INCH / mm };
  }

  const few = (size, how) => size.ppi < how.ppi * (1 - 1e-9);

  function tell(print, how) {
    const size = sized(print, how);
    if (!size) return;
    const cm = put(form.dataset.cm, { w: figures.format(size.w / 10), h: figures.format(size.h / 10) });
    const ppi = Math.round(size.ppi);
    const lines = [put(form.dataset.beside, {
      w: figures.format(size.w / MM_PER_INCH), h: figures.format(size.h / MM_PER_INCH), ppi,
    })];
    if (few(size, how)) lines.push(put(form.dataset.few, { ppi }));
    if (how.mat) {
      const [w, h] = [size.w, size.h].map(side => figures.format((side - 2 * UNDER_MAT_MM) / 10));
      lines.push(put(form.dataset.window, { w, h }));
    }
    print.querySelector("[data-size]").textContent = cm;
    print.querySelector("[data-beside]").textContent = lines.join("; ");
    print.toggleAttribute("data-few", few(size, how));
  }

  const picked = () => prints.filter(print => box(print).checked);

  function show() {
    const how = chosen();
    prints.forEach(print => tell(print, how));
    table.toggleAttribute("data-one-paper", Boolean(how.sides));
    const sizes = picked().map(print => sized(print, how)).filter(Boolean);
    const told = put(form.dataset.told, {
      n: picked().length, m: prints.length, copies: picked().length * how.copies,
      area: area.format(how.copies * sizes.reduce((sum, s) => sum + s.w * s.h / 1e6, 0)),
    });
    const small = sizes.filter(size => few(size, how)).length;
    form.querySelector("output").textContent =
      small ? `${told}; ${put(form.dataset.fewTold, { n: small })}` : told;
    prints.forEach(print => print.toggleAttribute("data-left", !box(print).checked));
  }

  /* By time as the page has them, or by setup; those with a finding to act on stay last. */
  function order() {
    const setup = form.elements.order.value === "setup";
    const place = print => [Number("last" in print.dataset), setup ? Number(print.dataset.setup) : 0];
    const sorted = prints.map((print, n) => [...place(print), n, print]);
    sorted.sort((a, b) => a[0] - b[0] || a[1] - b[1] || a[2] - b[2]);
    const rows = sorted.map(([, , , print]) => print);
    const end = rows.findIndex(print => "last" in print.dataset);
    if (last) rows.splice(end < 0 ? rows.length : end, 0, last);
    table.append(...rows);
  }

  function remember() {
    const set = new URLSearchParams();
    for (const name of fields) {
      if (form.elements[name].value !== first[name]) set.set(name, form.elements[name].value);
    }
    const left = prints.filter(print => !box(print).checked).map(print => print.dataset.print.slice(6));
    if (left.length) set.set("without", left.join("."));
    history.replaceState(null, "", set.size ? `#${set}` : location.pathname + location.search);
  }

  function restore() {
    if (location.hash && !location.hash.includes("=")) return;
    const set = new URLSearchParams(location.hash.slice(1));
    for (const name of fields) {
      const field = form.elements[name];
      field.value = set.get(name) ?? first[name];
      if (field.selectedIndex < 0 || field.value === "") field.value = first[name];
    }
    const left = (set.get("without") || "").split(".");
    prints.forEach(print => { box(print).checked = !left.includes(print.dataset.print.slice(6)); });
    order();
    show();
  }

  /* In the order of the table, as they are picked: the cells that an order has whatever the paper, and the size. */
  function lines() {
    const how = chosen();
    const rows = [...table.querySelectorAll("[data-print]")].filter(print => box(print).checked);
    return rows.map((print, n) => {
      const size = sized(print, how), cells = JSON.parse(print.dataset.order);
      Object.assign(cells, { line: n + 1, copies: how.copies, border_mm: how.border, paper: how.paper });
      if (!size) return cells;
      if (how.mat) cells.remark = [cells.remark, `mat covers ${UNDER_MAT_MM} mm a side`].filter(Boolean).join("; ");
      if (few(size, how)) cells.remark = [cells.remark, `fewer than ${how.ppi} ppi`].filter(Boolean).join("; ");
      return Object.assign(cells, {
        print_width_mm: size.w.toFixed(1), print_height_mm: size.h.toFixed(1),
        print_width_in: (size.w / MM_PER_INCH).toFixed(2), print_height_in: (size.h / MM_PER_INCH).toFixed(2),
        ppi: Math.round(size.ppi),
      });
    });
  }

  function total(rows) {
    const copies = rows.reduce((sum, row) => sum + row.copies, 0);
    const m2 = rows.reduce((sum, r) => sum + (r.print_width_mm * r.print_height_mm * r.copies / 1e6 || 0), 0);
    const remark = `pictures: ${rows.length}; prints: ${copies}; printed area: ${m2.toFixed(2)} m2`;
    const unknown = rows.filter(row => !row.print_width_mm).length;
    return { line: "total", copies, remark: unknown ? `${remark}; without a size: ${unknown}` : remark };
  }

  /* CRC-32, as zlib and PNG reckon it (ISO 3309, from memory). */
  function checkSum(words) {
    let sum = 0xFFFFFFFF;
    for (const byte of new TextEncoder().encode(words)) {
      sum ^= byte;
      for (let bit = 0; bit < 8; bit += 1) sum = sum & 1 ? (sum >>> 1) ^ 0xEDB88320 : sum >>> 1;
    }
    return (sum ^ 0xFFFFFFFF) >>> 0;
  }

  const quoted = cell => /[",\r\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell;

  function orderSheet() {
    const columns = form.dataset.columns.split(","), rows = lines();
    const cells = [...rows, total(rows)].map(row => columns.map(name => String(row[name] ?? "")));
    const job = String(checkSum(cells.map(row => row.join(",")).join("\n")) % 1e6).padStart(6, "0");
    const numbered = cells.map(([, ...rest]) => [job, ...rest]);
    return [columns, ...numbered].map(row => row.map(quoted).join(",") + "\n").join("");
  }

  const keepList = () => picked().map(print => `${print.dataset.path}\n`).join("");

  function save(name) {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([name === "keep.txt" ? keepList() : orderSheet()]));
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  }

  prints.forEach(print => { box(print).hidden = false; });
  form.addEventListener("change", () => { order(); show(); remember(); });
  table.addEventListener("change", () => { show(); remember(); });
  form.addEventListener("click", event => { if (event.target.dataset.save) save(event.target.dataset.save); });
  addEventListener("hashchange", restore);
  restore();
  show();
})();
