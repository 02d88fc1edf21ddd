// Tables: sorted, filtered, copied, saved; names in them lead to the plan.
function makeTables(find, save) {
  const collator = new Intl.Collator(undefined, {numeric: true});
  for (const table of document.querySelectorAll("details.table table")) dress(table);

  // Text that a spreadsheet would take for a formula gets a mark in front of it.
  function safe(text) {
    return /^[=+@\t\r]/.test(text) || (/^-/.test(text) && Number.isNaN(Number(text))) ? `'${text}` : text;
  }

  function cellsOf(table) {
    return [table.tHead.rows[0], ...[...table.tBodies[0].rows].filter((row) => !row.hidden)]
      .map((row) => [...row.cells].map((cell) => safe(cell.textContent)));
  }

  function dress(table) {
    const body = table.tBodies[0], heads = [...table.tHead.rows[0].cells], fold = table.closest("details");
    heads.forEach((head, column) => {
      const button = element("button", {type: "button", class: "sort"}, head.textContent);
      head.replaceChildren(button);
      button.addEventListener("click", () => {
        const down = head.getAttribute("aria-sort") === "ascending";
        heads.forEach((other) => other.removeAttribute("aria-sort"));
        head.setAttribute("aria-sort", down ? "descending" : "ascending");
        const number = "number" in head.dataset;
        const key = (row) => number ? parseFloat(row.cells[column].textContent.replace(/^[^\d-]*/, "")) : row.cells[column].textContent;
        const rows = [...body.rows].map((row) => [key(row), row]);
        rows.sort(([a], [b]) => (down ? -1 : 1) * (number ? (Number.isNaN(a) ? 1e9 : a) - (Number.isNaN(b) ? 1e9 : b) : collator.compare(a, b)));
        body.append(...rows.map(([, row]) => row));
      });
    });
    const input = element("input", {type: "search", autocomplete: "off"});
    const count = element("span", {role: "status", class: "count"});
    const title = fold.querySelector("summary").textContent.replace(/ \([\d,]+\)$/, "").toLowerCase();
    const copy = element("button", {type: "button", "aria-label": `Copy ${title}`}, "Copy");
    const keep = element("button", {type: "button", "aria-label": `Save ${title} as CSV`}, "Save as CSV");
    table.closest(".wide").before(element("div", {class: "row script"},
      element("label", {class: "find"}, `Find in ${title} `, input), copy, keep, count));
    input.addEventListener("input", () => {
      const wanted = input.value.trim().toLowerCase();
      let left = 0;
      for (const row of body.rows) {
        row.hidden = !row.textContent.toLowerCase().includes(wanted);
        left += !row.hidden;
      }
      count.textContent = wanted ? `${left} of ${body.rows.length}` : "";
    });
    copy.addEventListener("click", async () => {
      try {
        await navigator.clipboard.writeText(cellsOf(table).map((row) => row.join("\t")).join("\n"));
        count.textContent = "Copied.";
      } catch {
        count.textContent = "The browser does not let this page copy; save it as CSV.";
      }
    });
    keep.addEventListener("click", () => {
      const text = cellsOf(table).map((row) => row.map((cell) => `"${cell.replaceAll('"', '""')}"`).join(",")).join("\r\n");
      save(`${table.id.replace("table-", "")}.csv`, "text/csv", `${text}\r\n`);
    });
    // Names lead to the plan: buttons where the table is short, else a click on the name alone and the search field.
    const linked = () => {
      if (body.dataset.linked || body.rows.length > 400) return;
      body.dataset.linked = "1";
      for (const row of body.rows) {
        const cell = row.cells[0];
        cell.replaceChildren(element("button", {type: "button", class: "go"}, cell.textContent));
      }
    };
    if (fold.open) linked();
    fold.addEventListener("toggle", linked);
    body.addEventListener("click", (event) => {
      const cell = event.target.closest("th");
      if (cell) find(cell.textContent);
    });
  }
}
