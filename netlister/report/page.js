// The page: its parts put together, what is tapped on the plan, and what is seen of it. Everything is written as text,
// never as HTML.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const circuit = makeCircuit(data), at = (id) => document.getElementById(id), root = document.documentElement;
  root.classList.add("js");

  // What the parts share: the positions as they are, and what follows from them.
  const page = {
    data, circuit, at, set, classOf, textOf, pieceOf, railsOf, choose, goTo, save,
    track: makeTrack(circuit), sheet: at("sheet"), drawing: at("sheet").querySelector("svg.plan"),
    state: data.state.slice(), found: circuit.look(data.state), ready: false,
    nodeOf: new Map(data.names.map((name, node) => [name, node])),
    say: (text) => { at("said").textContent = text; },
    remember: () => address.remember(),
  };
  const {drawing, sheet, nodeOf} = page;
  const letters = data.poles.map(([, letter]) => letter);

  function classOf(node) {
    const poles = page.found.poles(node), units = page.found.units(node);
    if (poles) return poles.length > 1 ? "pole-both" : `pole-${letters[poles[0]]}`;
    return units ? (units.length > 1 ? "pole-both" : "pole-unit") : "pole-none";
  }

  function textOf(node) {
    return circuit.named(node, page.found).join("+") || "none";
  }

  function spoken(node) {
    return circuit.named(node, page.found).join(" and ") || "no pole";
  }

  const plan = page.plan = makePlan(drawing, data, {kindOf: classOf, saidOf: (name) => spoken(nodeOf.get(name)), stateOf: () => page.state});
  const marks = page.marks = makeMarks(page);
  const moving = new Map(data.pieces.map(([name, , , , variables]) => [name, variables]));
  const movedBy = data.variables.map(() => []);
  for (const [piece, variables] of moving) for (const v of variables) movedBy[v].push(piece);

  function pieceOf(node) {
    return data.pieces[plan.owner.get(node)][0];
  }

  function railsOf(piece) {
    return plan.railsOf[plan.numbers.get(piece)] ?? [];
  }

  // -- other positions

  function set(next, said) {
    performance.mark("throw-begins");
    const before = page.state, was = page.found;
    const changed = next.flatMap((value, v) => value === before[v] ? [] : [v]);
    [page.state, page.found] = [next, circuit.look(next)];
    positions.changed(before, changed);
    const nodes = [];
    circuit.differing(was, page.found, (node) => nodes.push(node));
    plan.paint(nodes, [...new Set(changed.flatMap((v) => movedBy[v]))].map((piece) => plan.numbers.get(piece)));
    tables.paint(nodes);
    if (said) page.say(`${[said, ...doubts()].join("; ")}.`);
    findings.light();
    meter.read();
    train.lay();
    if (page.ready) walk.update();
    page.remember();
    performance.measure("throw", "throw-begins");
  }

  function doubts() {
    const cube = circuit.ruledOut(page.state), shorts = circuit.joinedRails(page.found);
    return [
      ...(cube ? [`ruled out: ${cube.map(([v, x]) => `${data.variables[v][0]} ${data.variables[v][2][x]}`).join(" with ")} is never set`] : []),
      ...(shorts ? [`poles are joined at ${shorts} rail${shorts > 1 ? "s" : ""}`] : []),
    ];
  }

  // One variable goes to its next position; several count up together.
  function throwPiece(piece) {
    const next = page.state.slice(), variables = moving.get(piece);
    for (const v of variables) {
      next[v] = (next[v] + 1) % data.variables[v][2].length;
      if (next[v]) break;
    }
    set(next, `${piece}: ${variables.map((v) => `${data.variables[v][0]} at ${data.variables[v][2][next[v]]}`).join(", ")}`);
  }

  // -- a tap on the plan

  drawing.addEventListener("click", (event) => {
    const node = plan.nearest(...page.view.place(event.clientX, event.clientY), 40 / page.view.scale());
    const piece = event.target.closest?.("g.piece")?.dataset.piece ?? (node >= 0 ? pieceOf(node) : "");
    const mode = document.querySelector("input[name=tap]:checked").value;
    if (piece) choose(piece);
    if (mode === "change") {
      if (piece) drawing.dispatchEvent(new CustomEvent("change-piece", {detail: piece}));
    } else if (mode !== "throw") {
      if (node >= 0) meter.tap(Number(mode), node);
    } else if (moving.get(piece)?.length) {
      throwPiece(piece);
    } else if (piece) {
      page.say(`${piece}: ${railsOf(piece).map((n) => `${data.names[n].slice(piece.length + 1)} ${textOf(n)}`).join(", ")}. Nothing moves on it.${numbered(findings.of(piece), " Findings ", ".")}`);
    }
  });

  function numbered(list, before, after = "") {
    return list.length ? `${before}${[...new Set(list)].map((n) => n + 1).join(", ")}${after}` : "";
  }

  // -- any name leads to its place

  // A piece is chosen: it stands among the words, and its rows are marked in the tables.
  function choose(piece) {
    walk.show(piece, false);
    tables.mark(piece);
  }

  function goTo(text) {
    const wanted = text.trim();
    const variable = data.variables.findIndex(([name]) => name === wanted);
    let pieces = plan.numbers.has(wanted) ? [wanted] : variable >= 0 ? movedBy[variable] : [];
    if (!pieces.length && nodeOf.has(wanted)) pieces = [pieceOf(nodeOf.get(wanted))];
    const box = plan.boxOf(pieces) ?? plan.boxOfThing(wanted);
    if (!box) {
      const like = [...plan.numbers.keys()].find((name) => name.toLowerCase().includes(wanted.toLowerCase()));
      page.say(like ? `There is no ${wanted}. Did you mean ${like}?` : `Nothing on the plan is named ${wanted}.`);
      return;
    }
    page.view.reveal(box, true);
    if (pieces.length === 1) choose(pieces[0]);
    marks.clear("here");
    marks.ring("here", box);
    const by = variable < 0 && pieces.length === 1 ? moving.get(pieces[0]).map((v) => data.variables[v][0]) : [];
    page.say(`${wanted}${pieces.length && pieces[0] !== wanted ? ` is at ${pieces.slice(0, 5).join(", ")}` : ""}${
      by.length ? `, moved by ${by.join(" and ")}` : ""}${
      numbered(pieces.flatMap(findings.of), "; findings ")}. A ring is around it.`);
  }

  function isDrawn(name) {
    return plan.numbers.has(name) || plan.thingByName.has(name) || plan.owner.has(nodeOf.get(name));
  }

  const wanted = at("find-name");
  let listed = false;
  for (const field of [wanted, at("walk-name")]) {
    field.addEventListener("focus", () => {
      if (listed) return;
      listed = true;
      const names = new Set([...plan.numbers.keys(), ...plan.thingByName.keys(), ...data.variables.map(([name]) => name)]);
      at("all-names").append(...[...names].map((name) => element("option", {value: name})));
    });
  }
  wanted.addEventListener("change", () => { if (wanted.value.trim()) goTo(wanted.value); });

  // -- saved and printed

  function save(name, type, text) {
    const link = element("a", {download: name, href: URL.createObjectURL(new Blob([text], {type}))});
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  }
  at("save-plan").addEventListener("click", () => {
    const copy = plan.whole(), {x, y, width, height} = page.view.whole;
    copy.prepend(drawn("style", {}, data.style + data.plan.style));
    copy.classList.remove("far", "remote", "heat");
    for (const [key, value] of Object.entries({viewBox: `${x} ${y} ${width} ${height}`, width, height, xmlns: SVG})) copy.setAttribute(key, value);
    save("plan.svg", "image/svg+xml", new XMLSerializer().serializeToString(copy));
  });
  at("print").addEventListener("click", () => window.print());
  for (const box of document.querySelectorAll("input[data-print]")) {
    box.addEventListener("change", () => { root.classList.toggle(`without-${box.dataset.print}`, !box.checked); });
  }

  // On paper everything is unfolded.
  let folded = [];
  window.addEventListener("beforeprint", () => {
    tables.fill();
    folded = [...document.querySelectorAll("details:not([open])")];
    for (const one of folded) one.open = true;
  });
  window.addEventListener("afterprint", () => { for (const one of folded) one.open = false; });

  // -- put together; what one part asks of another it asks when something is pressed

  const findings = makeFindings(page), positions = makePositions(page), meter = makeMeter(page), train = makeTrain(page);
  const address = makeAddress(page, [positions, findings, meter, train]);
  const tables = makeTables(page);
  page.view = makeView(sheet, drawing, plan.track(), (scale, box) => {
    plan.see(box, scale);
    findings.size(scale);
  });
  for (const [id, by] of [["larger", 1.4], ["smaller", 1 / 1.4]]) at(id).addEventListener("click", () => page.view.zoom(by));
  at("fit").addEventListener("click", () => page.view.fit());
  at("show-names").addEventListener("change", (event) => drawing.classList.toggle("named", event.target.checked));
  makeShade(page);
  makeSheet(data.sheet.expect && data.sheet, data.layout, {save, find: (parts) => goTo(parts.find(isDrawn) ?? parts[0] ?? "")});
  const walk = makeWalk(data, plan, {
    poleOf: spoken, positionOf: (v) => data.variables[v][2][page.state[v]], throwPiece, goTo,
    findingsOf: findings.of, showFinding: findings.open, tables,
  });

  page.recall = (parts) => {
    meter.recall(parts);
    train.recall(parts);
    set(positions.told(parts), "");
    findings.recall(parts);
  };
  page.recall(new URLSearchParams(location.hash.slice(1)));
  page.ready = true;
  address.settle();
  findings.size(page.view.scale());
  root.classList.add("ready");
})();
