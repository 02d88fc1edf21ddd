// The plan piece by piece: what a piece is, how it stands, its poles, its neighbours; to be walked along by keys and heard.
function makeWalk(data, plan, {poleOf, positionOf, throwPiece, showFinding, findingsOf, goTo, tables}) {
  const box = document.getElementById("walk"), field = document.getElementById("walk-name");
  if (!box) return {show() {}, update() {}};
  const neighbours = new Map(data.pieces.map(([name]) => [name, []]));
  for (const [joint, one, other] of data.joints) {
    for (const [here, there] of [[one, other], [other, one]]) neighbours.get(here[0])?.push([here[1], joint, there[0], there[1], here[2], here[3]]);
  }
  const MOST = 200;                    // names that lead from a card to the plan
  const cards = new Map();             // name -> what is folded away about it: its own card, the sheet of its kind
  for (const fold of document.querySelectorAll("details.wiring")) {
    const names = fold.dataset.of.split(" ");
    for (const name of names) cards.set(name, [...cards.get(name) ?? [], fold]);
    fold.addEventListener("toggle", () => fold.querySelector("summary").after(element("p", {class: "row script"}, "On the plan: ",
      ...names.slice(0, MOST).map((name) => pressed(name, () => goTo(name), {class: "go"})))), {once: true});
  }

  function unfold(fold) {
    fold.open = true;
    fold.querySelector("summary").focus();
    fold.scrollIntoView({block: "start"});
  }
  let current = "";

  // What stands for a piece; `focus`: its heading is read out.
  function show(name, focus) {
    if (!plan.numbers.has(name)) return;
    current = name;
    field.value = name;
    const number = plan.numbers.get(name), [, kind, first, , moving] = data.pieces[number];
    const rails = plan.railsOf[number];
    const head = element("h4", {tabindex: "-1", id: "walk-head"}, `${name}, ${kind}`);
    const listed = [];
    if (moving.length) listed.push(element("p", {}, `Stands: ${moving.map((v) => `${data.variables[v][0]} at ${positionOf(v)}`).join(", ")}. `,
      pressed("Throw it", () => { throwPiece(name); document.getElementById("walk-head").focus(); })));
    if (!Number.isNaN(first)) listed.push(element("p", {}, `Rails: ${rails.map((node) => `${data.names[node].slice(name.length + 1)} has ${poleOf(node)}`).join(", ")}.`));
    const ends = neighbours.get(name) ?? [];
    const rows = ends.map(([end, joint, piece, other, left, right]) => {
      const cut = left && right ? "both rails insulated" : left ? "left rail insulated" : right ? "right rail insulated" : "metal joiners";
      return element("li", {}, `${end} to `, pressed(`${piece} (${other})`, () => { goTo(piece); show(piece, true); }, {class: "go"}), `, ${cut}`, joint.includes("/") ? "" : `, joint ${joint}`);
    });
    listed.push(rows.length ? element("ul", {"aria-label": "Neighbours"}, ...rows) : element("p", {}, "Nothing is joined to it."));
    const found = findingsOf(name);
    if (found.length) listed.push(element("p", {class: "row"}, "Findings: ", ...found.map((n) => pressed(String(n + 1), () => showFinding(n), {"aria-label": `Finding ${n + 1}`}))));
    const folds = cards.get(name) ?? [];
    if (folds.length) {
      listed.push(element("p", {class: "row"}, "Its card: ", ...folds.map((fold) => pressed(fold.querySelector("summary").textContent.split(":")[0], () => unfold(fold)))));
    }
    listed.push(element("p", {class: "row"}, "Its rows: ", ...tables.titles.map(([key, title]) => pressed(title, () => tables.lead(key, name)))));
    box.replaceChildren(head, ...listed);
    if (focus) head.focus();
  }

  field.addEventListener("change", () => {
    const wanted = field.value.trim();
    if (plan.numbers.has(wanted)) show(wanted, true);
    else if (wanted) box.replaceChildren(element("p", {}, `There is no piece ${wanted}.`));
  });
  if (data.pieces.length) show(data.pieces[0][0], false);
  return {show, update: () => { if (!box.contains(document.activeElement)) show(current, false); else show(current, true); }};
}
