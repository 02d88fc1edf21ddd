// Tables: filled when they are opened; sorted, filtered, copied, saved; names in them lead to the plan and back.
function makeTables({data, at, goTo, save, classOf, textOf}) {
  const collator = new Intl.Collator(undefined, {numeric: true});
  const LINKED = 400;                  // rows up to which each name is a button of its own
  const SIGNS = {"&amp;": "&", "&lt;": "<", "&gt;": ">", "&quot;": '"', "&#x27;": "'"};
  const all = [...document.querySelectorAll("details.table")].map((fold) => ({fold, table: null, marked: []}));
  const cells = new Map();             // node of a rail -> where its pole stands
  let marked = "";                     // the piece whose rows are marked

  for (const one of all) {
    one.title = one.fold.querySelector("summary").textContent.replace(/ \([\d,]+\)$/, "");
    one.key = one.fold.querySelector(".wide").dataset.table;
    if (!one.fold.querySelector("noscript")) ready(one);
    if (one.fold.open) link(one);
    one.fold.addEventListener("toggle", () => { if (one.fold.open) open(one); });
  }

  function ready(one) {
    if (one.table) return;
    const wide = one.fold.querySelector(".wide"), later = wide.querySelector("noscript");
    if (later) later.replaceWith(read(later.textContent));
    one.table = wide.querySelector("table");
    if (one.key === "rails") {
      [...one.table.tBodies[0].rows].forEach((row, number) => cells.set(data.rails[number], row.cells[2]));
      paint(data.rails);
    }
    dress(one);
  }

  // Names lead to the plan: buttons where the table is short, else a click on the name alone and the search field.
  function link(one) {
    const {rows} = one.table.tBodies[0];
    if (!one.linked && rows.length <= LINKED) {
      for (const {cells: [cell]} of rows) cell.replaceChildren(element("button", {type: "button", class: "go"}, cell.textContent));
    }
    one.linked = true;
  }

  function open(one) {
    ready(one);
    link(one);
    markIn(one);
  }

  // A long table as it is written for a browser without scripts, cell by cell.
  function read(text) {
    const plain = (said) => said.replace(/&(?:amp|lt|gt|quot|#x27);/g, (sign) => SIGNS[sign]);
    const [head, body] = text.split("<tbody>");
    const cellsOf = (row) => [...row.matchAll(/<(th|td)([^>]*)>([^<]*)/g)].map(([, name, more, said]) => {
      const made = element(name, {}, plain(said)), kind = more.match(/class=([\w-]+)/);
      if (kind) made.className = kind[1];
      if (more.includes("data-number")) made.dataset.number = "";
      return made;
    });
    const rows = body.split("<tr>").slice(1).map((row) => element("tr", {}, ...cellsOf(row)));
    return element("table", {id: text.match(/id="([\w-]+)"/)[1]}, element("thead", {}, element("tr", {}, ...cellsOf(head.split("<tr>")[1]))), element("tbody", {}, ...rows));
  }

  // Rails have other poles.
  function paint(nodes) {
    for (const node of nodes) {
      const cell = cells.get(node);
      if (!cell) continue;
      cell.textContent = textOf(node);
      cell.className = classOf(node);
    }
  }

  // Text that a spreadsheet would take for a formula gets a mark in front of it.
  function safe(text) {
    return /^[=+@\t\r]/.test(text) || (/^-/.test(text) && Number.isNaN(Number(text))) ? `'${text}` : text;
  }

  function listed(table) {
    return [table.tHead.rows[0], ...[...table.tBodies[0].rows].filter((row) => !row.hidden)]
      .map((row) => [...row.cells].map((cell) => safe(cell.textContent)));
  }

  function dress(one) {
    const {table, title, key} = one, body = table.tBodies[0], heads = [...table.tHead.rows[0].cells];
    heads.forEach((head, column) => {
      head.replaceChildren(pressed(head.textContent, () => sort(body, heads, column), {class: "sort"}));
    });
    const said = title.toLowerCase(), input = element("input", {type: "search", autocomplete: "off"});
    const count = element("span", {role: "status", class: "count"});
    input.addEventListener("input", () => {
      const wanted = input.value.trim().toLowerCase();
      let left = 0;
      for (const row of body.rows) {
        row.hidden = !row.textContent.toLowerCase().includes(wanted);
        left += !row.hidden;
      }
      count.textContent = wanted ? `${left} of ${body.rows.length}` : "";
    });
    const copy = pressed("Copy", async () => {
      try {
        await navigator.clipboard.writeText(listed(table).map((row) => row.join("\t")).join("\n"));
        count.textContent = "Copied.";
      } catch {
        count.textContent = "The browser does not let this page copy; save it as CSV.";
      }
    }, {"aria-label": `Copy ${said}`});
    const keep = pressed("Save as CSV", () => {
      const text = listed(table).map((row) => row.map((cell) => `"${cell.replaceAll('"', '""')}"`).join(",")).join("\r\n");
      save(`${key}.csv`, "text/csv", `${text}\r\n`);
    }, {"aria-label": `Save ${said} as CSV`});
    table.closest(".wide").before(element("div", {class: "row script"},
      element("label", {class: "find"}, `Find in ${said} `, input), copy, keep, count));
    one.filter = input;
    body.addEventListener("click", (event) => {
      const cell = event.target.closest("th");
      if (cell) goTo(cell.textContent);
    });
  }

  function sort(body, heads, column) {
    const head = heads[column], down = head.getAttribute("aria-sort") === "ascending", number = "number" in head.dataset;
    heads.forEach((other) => other.removeAttribute("aria-sort"));
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    const key = (row) => number ? parseFloat(row.cells[column].textContent.replace(/^[^\d-]*/, "")) : row.cells[column].textContent;
    const rows = [...body.rows].map((row) => [key(row), row]);
    rows.sort(([a], [b]) => (down ? -1 : 1) * (number ? (Number.isNaN(a) ? 1e9 : a) - (Number.isNaN(b) ? 1e9 : b) : collator.compare(a, b)));
    body.append(...rows.map(([, row]) => row));
  }

  // -- from the plan to its rows

  // Rows that speak of a piece: by its name, or by one of its rails, ends or contacts.
  function speaks(row, piece) {
    return [...row.cells].some((cell) => cell.textContent.split(/[\s,:;/]+/).some((word) => word === piece || word.startsWith(`${piece}.`)));
  }

  function markIn(one) {
    for (const row of one.marked) row.classList.remove("here");
    one.marked = marked && one.table ? [...one.table.tBodies[0].rows].filter((row) => speaks(row, marked)) : [];
    for (const row of one.marked) row.classList.add("here");
  }

  function mark(piece) {
    if (piece === marked) return;
    marked = piece;
    for (const one of all) if (one.fold.open) markIn(one);
  }

  // A table is unfolded at the first row that speaks of a piece.
  function lead(key, piece) {
    const one = all.find((other) => other.key === key);
    one.fold.open = true;
    marked = piece;
    open(one);
    if (one.filter.value) {
      one.filter.value = "";
      one.filter.dispatchEvent(new Event("input"));
    }
    const [row] = one.marked, go = row?.querySelector(".go");
    if (!row) one.fold.querySelector("summary").focus();
    else if (go) go.focus();
    else at(`table-${key}`).closest(".wide").focus({preventScroll: true});
    (row ?? one.fold).scrollIntoView({block: "center"});
  }

  return {paint, mark, lead, titles: all.map(({key, title}) => [key, title]), fill: () => all.forEach(ready)};
}
