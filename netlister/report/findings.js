// The findings on the plan: each has its number at its place; one is shown in its positions, with its path lit.
function makeFindings(page) {
  const {data, circuit, plan, marks, at, nodeOf} = page;
  const buttons = [...document.querySelectorAll("button[data-finding]")];
  const letterOfPole = new Map(data.poles.map(([name, letter]) => [nodeOf.get(name), letter]));
  const ofPiece = new Map();           // piece -> numbers of findings
  const MOST = 200;                    // numbers on the plan
  let shown = -1;

  function piecesOf({parts, path, terminals}) {
    return [...new Set([...parts.filter((p) => plan.numbers.has(p)),
      ...[...path, ...terminals].filter((n) => plan.owner.has(n)).map(page.pieceOf)])];
  }

  const listed = [];
  data.findings.forEach((one, number) => {
    const pieces = piecesOf(one);
    for (const piece of pieces) ofPiece.set(piece, [...ofPiece.get(piece) ?? [], number]);
    const place = number < MOST ? placeOf(one, pieces) : null;
    if (place) listed.push({number, severity: buttons[number].dataset.severity, x: place[0], y: place[1]});
  });
  const faults = makeFaults(page, listed, open);

  // Where a finding is: at the joint, feed or contact that it names, else on the rail, else on the piece.
  function placeOf({at: where, parts, terminals}, pieces) {
    const names = [...where, ...parts], middle = (box) => box && [box.x + box.width / 2, box.y + box.height / 2];
    const thing = names.map((name) => plan.boxOfThing(name)).find(Boolean);
    const rail = names.map((name) => nodeOf.get(name)).concat(terminals).find((node) => plan.drawn(node));
    return middle(thing) ?? (rail === undefined ? null : plan.along(rail, 0.5)) ?? middle(plan.boxOf(pieces.slice(0, 1)));
  }

  // -- one is shown

  for (const button of buttons) {
    button.addEventListener("click", () => {
      const number = Number(button.dataset.finding);
      show(shown === number ? -1 : number, true);
      if (shown >= 0 && getComputedStyle(page.sheet.closest(".bench")).position !== "sticky") at("plan-head").scrollIntoView({block: "start"});
    });
  }

  // `positions`: it sets those in which it happens.
  function show(number, positions) {
    shown = number;
    for (const button of buttons) {
      const on = Number(button.dataset.finding) === number;
      button.setAttribute("aria-pressed", on);
      button.closest("li").classList.toggle("on", on);
    }
    if (number < 0) {
      light();
      page.say("Highlight off.");
      page.remember();
      return;
    }
    const {set: wanted, path} = data.findings[number];
    const named = wanted.map(([v, x]) => `${data.variables[v][0]} at ${data.variables[v][2][x]}`).join(", ");
    const next = positions ? circuit.withPositions(page.state, wanted) : page.state;
    page.set(next, `Finding ${number + 1} is highlighted${named ? `, with ${named}` : ", in any position"}${
      path.length > 1 && !circuit.conducts(path, next) ? "; part of its path is made by a wheel or a moving contact" : ""}`);
    const [first] = piecesOf(data.findings[number]);
    if (first) page.choose(first);
    const box = plan.boxOf([...new Set(litNodes().filter((n) => plan.owner.has(n)).map(page.pieceOf))]);
    if (box) page.view.reveal(box, false);
  }

  // Shown, and its words unfolded.
  function open(number) {
    show(number, true);
    const item = at(`finding-${number}`);
    if (item.closest("details")) item.closest("details").open = true;
    item.scrollIntoView({block: "nearest"});
  }

  function light() {
    marks.clear("finding");
    if (shown < 0) return;
    const ends = [data.findings[shown].path.at(0), data.findings[shown].path.at(-1)].map((node) => letterOfPole.get(node));
    const both = ends[0] && ends[1] && ends[0] !== ends[1];
    for (const node of litNodes()) {
      if (!both) marks.glow("finding", node, "lit");
      else for (const letter of ["A", "B"]) marks.glow("finding", node, `lit of-${letter}`);
    }
  }

  function litNodes() {
    const {path, terminals, parts} = data.findings[shown];
    const told = path.filter((n) => n >= 0);
    if (path.length > 1) {
      if (!path.includes(-1) && circuit.conducts(path, page.state)) return path;
      if (path[0] >= 0 && path[path.length - 1] >= 0) {
        const other = circuit.path(path[0], path[path.length - 1], page.state);
        if (other.length) return other;
      }
      return told;
    }
    if (terminals.length) return terminals;
    return parts.flatMap((part) => nodeOf.has(part) ? [nodeOf.get(part)] : page.railsOf(part));
  }

  function tell(parts) {
    if (shown >= 0) parts.set("finding", shown + 1);
  }

  function recall(parts) {
    const number = Number(parts.get("finding")) - 1;
    if (number >= 0 && number < data.findings.length) show(number, false);
    else if (shown >= 0) show(-1, false);
  }

  return {of: (piece) => ofPiece.get(piece) ?? [], size: faults.size, light, open, tell, recall};
}
