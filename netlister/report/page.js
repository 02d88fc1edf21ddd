// The page: what is pressed, tapped and pushed. Everything is written as text, never as HTML.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const circuit = makeCircuit(data), track = makeTrack(circuit);
  const at = (id) => document.getElementById(id);
  const root = document.documentElement;
  root.classList.add("js");

  const rest = data.state.slice();
  let state = rest.slice();
  let found = circuit.look(state);
  let shown = -1;                      // the finding that is highlighted
  const probes = [-1, -1];
  const marks = new Map();             // what is laid over the plan, by who laid it
  let started = false;
  let way = null;
  let laid = {};                       // the way that stands on the page, and what it depends on
  const nodeOf = new Map(data.names.map((name, node) => [name, node]));
  const trains = data.trains.length ? data.trains : [
    {name: "four axles", axles: [0, 30, 120, 150], left: [1, 2, 3, 4], right: [1, 2, 3, 4], bridging: []}];

  // -- what is on the page

  const sheet = at("sheet");
  const drawing = sheet.querySelector("svg.plan");
  const cells = new Map();
  document.querySelectorAll("#table-rails tbody tr").forEach((row, number) => cells.set(data.rails[number], row.cells[2]));
  const letters = data.poles.map(([, letter]) => letter);

  function classOf(node) {
    const poles = found.poles(node), units = found.units(node);
    if (poles) return poles.length > 1 ? "pole-both" : `pole-${letters[poles[0]]}`;
    return units ? (units.length > 1 ? "pole-both" : "pole-unit") : "pole-none";
  }

  function textOf(node) {
    return circuit.named(node, found).join("+") || "none";
  }

  const plan = makePlan(drawing, data, {kindOf: classOf, saidOf: (name) => spoken(nodeOf.get(name)), stateOf: () => state});

  function spoken(node) {
    return circuit.named(node, found).join(" and ") || "no pole";
  }

  function paint(before, moved) {
    const changed = [];
    circuit.differing(before, found, (node) => {
      changed.push(node);
      const cell = cells.get(node);
      if (!cell) return;
      cell.textContent = textOf(node);
      cell.className = classOf(node);
    });
    plan.paint(changed, moved);
  }

  function say(text) {
    at("said").textContent = text;
  }

  // -- positions

  const controls = [];
  const waiting = new Set();
  const box = at("positions");
  data.variables.forEach(([name, kind, positions], variable) => {
    if (!box) return;
    let control;
    if (positions.length > 3) {
      const select = element("select", {"aria-label": `${kind} ${name}`});
      positions.forEach((position, x) => select.append(element("option", {value: x}, position)));
      select.addEventListener("change", () => move(variable, Number(select.value)));
      control = element("label", {class: "lever"}, element("span", {class: "who"}, name), select);
      controls.push({box: control, show: () => { select.value = state[variable]; }});
    } else {
      const where = element("span", {class: "where"});
      const button = element("button", {type: "button", class: "lever", "data-variable": name},
        element("span", {class: "who"}, name), " ", where);
      button.addEventListener("click", () => move(variable, (state[variable] + 1) % positions.length));
      control = button;
      controls.push({box: button, show: () => {
        where.textContent = positions[state[variable]];
        button.classList.toggle("moved", state[variable] !== rest[variable]);
      }});
    }
    box.append(control);
  });
  const find = at("find-position");
  find?.addEventListener("input", () => {
    const wanted = find.value.trim().toLowerCase();
    data.variables.forEach(([name], v) => { controls[v].box.hidden = !name.toLowerCase().includes(wanted); });
  });
  at("rest")?.addEventListener("click", () => set(rest.slice(), "Everything as the page opened"));

  function undoable() {
    if (!at("undo")) return;
    at("undo").setAttribute("aria-disabled", String(!past.length));
    at("redo").setAttribute("aria-disabled", String(!ahead.length));
  }
  function step(from, to, said) {
    if (!from.length) return;
    to.push(state);
    undoing = true;
    set(from.pop(), said);
    undoing = false;
  }
  at("undo")?.addEventListener("click", () => step(past, ahead, "Undone"));
  at("redo")?.addEventListener("click", () => step(ahead, past, "Done again"));
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.target.matches("input, select, textarea")) return;
    const key = event.key.toLowerCase();
    if (key === "z" && !event.shiftKey) step(past, ahead, "Undone");
    else if (key === "y" || key === "z") step(ahead, past, "Done again");
    else return;
    event.preventDefault();
  });

  function move(variable, value) {
    const next = state.slice();
    next[variable] = value;
    const [name, , positions] = data.variables[variable];
    set(next, `${name} at ${positions[value]}`);
  }

  const past = [], ahead = [];          // positions before, and those that were undone
  let undoing = false;
  function set(next, said) {
    performance.mark("throw-begins");
    if (started && !undoing && next.some((value, v) => value !== state[v])) {
      past.push(state);
      if (past.length > 200) past.shift();
      ahead.length = 0;
    }
    undoable();
    const changed = [];
    next.forEach((value, v) => { if (value !== state[v]) changed.push(v); });
    const before = found;
    state = next;
    found = circuit.look(state);
    for (const v of changed) controls[v]?.show();
    for (const who of ["finding", "train", "probes"]) clear(who);
    paint(before, [...new Set(changed.flatMap((v) => movedBy[v]))].map((piece) => plan.numbers.get(piece)));
    const cube = circuit.ruledOut(state);
    const shorts = circuit.joinedRails(found);
    const words = [said];
    if (cube) words.push(`ruled out: ${cube.map(([v, x]) => `${data.variables[v][0]} ${data.variables[v][2][x]}`).join(" with ")} is never set`);
    if (shorts) words.push(`poles are joined at ${shorts} rail${shorts > 1 ? "s" : ""}`);
    if (said) say(`${words.join("; ")}.`);
    light();
    read();
    lay();
    if (started) walk.update();
    remember();
    performance.measure("throw", "throw-begins");
  }

  // -- the plan: where a tap falls, its size

  function nearest(event) {
    return plan.nearest(...view.place(event.clientX, event.clientY), 40 / view.scale());
  }

  const bars = new Map(data.pieces.map(([name, , , , moving]) => [name, moving]));
  const movedBy = data.variables.map(() => []);
  for (const [piece, moving] of bars) for (const v of moving) movedBy[v].push(piece);
  drawing.addEventListener("click", (event) => {
    const group = event.target.closest?.("g.piece");
    const node = nearest(event);
    const piece = group?.dataset.piece ?? (node >= 0 ? pieceOf(node) : "");
    const mode = document.querySelector("input[name=tap]:checked").value;
    if (piece) walk.show(piece, false);
    if (mode !== "throw") {
      if (node >= 0) {
        probe(Number(mode), node);
        const other = document.querySelector(`input[name=tap][value="${1 - Number(mode)}"]`);
        if (probes[1 - Number(mode)] < 0) other.checked = true;
      }
      return;
    }
    const moving = bars.get(piece) || [];
    if (!moving.length) {
      if (piece) say(`${piece}: ${railsOf(piece).map((n) => `${shortName(n)} ${textOf(n)}`).join(", ")}. Nothing moves on it.${(findingsOf.get(piece) ?? []).length ? ` Findings ${findingsOf.get(piece).map((n) => n + 1).join(", ")}.` : ""}`);
      return;
    }
    throwPiece(piece, moving);
  });

  // One variable goes to its next position; several count up together.
  function throwPiece(piece, moving) {
    const next = state.slice();
    for (const v of moving) {
      next[v] = (next[v] + 1) % data.variables[v][2].length;
      if (next[v]) break;
    }
    set(next, `${piece}: ${moving.map((v) => `${data.variables[v][0]} at ${data.variables[v][2][next[v]]}`).join(", ")}`);
  }

  function pieceOf(node) {
    return data.pieces[plan.owner.get(node)][0];
  }

  function shortName(node) {
    return data.names[node].slice(data.names[node].indexOf(".") + 1);
  }

  function railsOf(piece) {
    return plan.railsOf[plan.numbers.get(piece)] ?? [];
  }

  const view = makeView(sheet, drawing, plan.track(), (scale, box) => {
    plan.see(box, scale);
    if (started) sizeFaults(scale);
  });
  at("larger").addEventListener("click", () => view.zoom(1.4));
  at("smaller").addEventListener("click", () => view.zoom(1 / 1.4));
  at("fit").addEventListener("click", () => view.fit());

  // -- any name leads to its place

  const finding = at("find-name");
  let named = false;
  for (const field of [finding, at("walk-name")]) field.addEventListener("focus", () => {
    if (named) return;
    named = true;
    const names = new Set([...plan.numbers.keys(), ...plan.thingByName.keys(), ...data.variables.map(([name]) => name)]);
    at("all-names").append(...[...names].map((name) => element("option", {value: name})));
  });
  finding.addEventListener("change", () => { if (finding.value.trim()) goTo(finding.value); });

  function goTo(text) {
    const wanted = text.trim();
    const variable = data.variables.findIndex(([name]) => name === wanted);
    let pieces = plan.numbers.has(wanted) ? [wanted] : variable >= 0 && movedBy[variable].length ? movedBy[variable] : [];
    if (!pieces.length && nodeOf.has(wanted)) pieces = [pieceOf(nodeOf.get(wanted))];
    const box = plan.boxOf(pieces) ?? plan.boxOfThing(wanted);
    if (!box) {
      const like = [...plan.numbers.keys()].find((name) => name.toLowerCase().includes(wanted.toLowerCase()));
      say(like ? `There is no ${wanted}. Did you mean ${like}?` : `Nothing on the plan is named ${wanted}.`);
      return;
    }
    view.reveal(box, true);
    if (pieces.length === 1) walk.show(pieces[0], false);
    clear("here");
    const ring = drawn("rect", {class: "here", x: box.x - 14, y: box.y - 14, width: box.width + 28, height: box.height + 28, rx: 10});
    plan.above.append(ring);
    marks.get("here").push(ring);
    const moving = variable < 0 && pieces.length === 1 ? bars.get(wanted)?.map((v) => data.variables[v][0]) ?? [] : [];
    const listed = pieces.flatMap((piece) => findingsOf.get(piece) ?? []);
    say(`${wanted}${pieces.length && pieces[0] !== wanted ? ` is at ${pieces.slice(0, 5).join(", ")}` : ""}${
      moving.length ? `, moved by ${moving.join(" and ")}` : ""}${
      listed.length ? `; findings ${[...new Set(listed)].map((n) => n + 1).join(", ")}` : ""}. A ring is around it.`);
  }

  // -- lit paths

  function clear(who) {
    for (const one of marks.get(who) || []) one.remove();
    marks.set(who, []);
  }
  function glow(who, node, kind) {
    const d = plan.stretchesOf(node).map(({x, y, rest}) => `M${x} ${y}${rest}`).join("");
    if (!d) return;
    const line = drawn("path", {d, class: `glow ${kind}`, "data-glow": data.names[node]});
    plan.below.append(line);
    marks.get(who).push(line);
  }

  function light() {
    clear("finding");
    if (shown < 0) return;
    const ends = [data.findings[shown].path.at(0), data.findings[shown].path.at(-1)].map((node) => letterOfPole.get(node));
    const both = ends[0] && ends[1] && ends[0] !== ends[1];
    for (const node of litNodes()) {
      if (!both) glow("finding", node, "lit");
      else for (const letter of ["A", "B"]) glow("finding", node, `lit of-${letter}`);
    }
  }

  const letterOfPole = new Map(data.poles.map(([name, letter]) => [nodeOf.get(name), letter]));

  function isDrawn(name) {
    return plan.numbers.has(name) || plan.thingByName.has(name) || plan.owner.has(nodeOf.get(name));
  }

  function litNodes() {
    const {path, terminals, parts} = data.findings[shown];
    const told = path.filter((n) => n >= 0);
    if (path.length > 1) {
      if (!path.includes(-1) && circuit.conducts(path, state)) return path;
      if (path[0] >= 0 && path[path.length - 1] >= 0) {
        const other = circuit.path(path[0], path[path.length - 1], state);
        if (other.length) return other;
      }
      return told;
    }
    if (terminals.length) return terminals;
    return parts.flatMap((part) => nodeOf.has(part) ? [nodeOf.get(part)] : railsOf(part));
  }

  const buttons = [...document.querySelectorAll("button[data-finding]")];
  for (const button of buttons) {
    button.addEventListener("click", () => {
      const number = Number(button.dataset.finding);
      showFinding(shown === number ? -1 : number, true);
      if (shown >= 0 && getComputedStyle(sheet.closest(".bench")).position !== "sticky") at("plan-head").scrollIntoView({block: "start"});
    });
  }

  function showFinding(number, positions) {
    shown = number;
    for (const button of buttons) {
      const on = Number(button.dataset.finding) === number;
      button.setAttribute("aria-pressed", on);
      button.closest("li").classList.toggle("on", on);
    }
    if (number < 0) {
      light();
      say("Highlight off.");
      remember();
      return;
    }
    const {set: wanted, path} = data.findings[number];
    const named = wanted.map(([v, x]) => `${data.variables[v][0]} at ${data.variables[v][2][x]}`).join(", ");
    const next = positions ? circuit.withPositions(state, wanted) : state;
    set(next, `Finding ${number + 1} is highlighted${named ? `, with ${named}` : ", in any position"}${
      path.length > 1 && !circuit.conducts(path, next) ? "; part of its path is made by a wheel or a moving contact" : ""}`);
    const box = plan.boxOf([...new Set(litNodes().filter((n) => plan.owner.has(n)).map(pieceOf))]);
    if (box) view.reveal(box, false);
  }

  // Each finding has its number on the plan, at the first part that it names.
  const findingsOf = new Map();        // piece -> numbers of findings
  const faults = [];
  const taken = new Map();
  data.findings.forEach(({parts, path, terminals, at: where}, number) => {
    const pieces = new Set([...parts.filter((p) => plan.numbers.has(p)),
      ...[...path, ...terminals].filter((n) => plan.owner.has(n)).map(pieceOf)]);
    for (const piece of pieces) findingsOf.set(piece, [...findingsOf.get(piece) ?? [], number]);
    if (number >= 200) return;
    const place = placeOf([...where, ...parts], terminals, [...pieces]);
    if (!place) return;
    const [x, y] = place, key = `${Math.round(x / 8)} ${Math.round(y / 8)}`;
    const nth = taken.get(key) ?? 0;
    taken.set(key, nth + 1);
    const word = buttons[number]?.closest("li.cause")?.classList;
    const mark = drawn("g", {class: `fault ${word?.contains("error") ? "error" : word?.contains("warning") ? "warning" : "note"}`});
    const text = drawn("text", {y: 4.5, "text-anchor": "middle"}), title = drawn("title");
    text.textContent = number + 1;
    title.textContent = `Finding ${number + 1}`;
    mark.append(drawn("circle", {r: 10}), text, title);
    mark.addEventListener("click", (event) => {
      event.stopPropagation();
      showFinding(number, true);
      unfold(number);
    });
    plan.above.append(mark);
    faults.push([mark, x, y, nth]);
  });

  function unfold(number) {
    const item = at(`finding-${number}`);
    if (item.closest("details")) item.closest("details").open = true;
    item.scrollIntoView({block: "nearest"});
  }

  // Where a finding is: at the joint, feed or contact that it names, else on the rail, else on the piece.
  function placeOf(names, terminals, pieces) {
    const middle = (box) => box && [box.x + box.width / 2, box.y + box.height / 2];
    const thing = names.map((name) => plan.boxOfThing(name)).find(Boolean);
    const rail = names.map((name) => nodeOf.get(name)).concat(terminals).find((node) => plan.drawn(node));
    return middle(thing) ?? (rail === undefined ? null : plan.along(rail, 0.5)) ?? middle(plan.boxOf(pieces.slice(0, 1)));
  }
  function sizeFaults(scale) {
    for (const [mark, x, y, nth] of faults ?? []) {
      mark.setAttribute("transform", `translate(${x + nth * 20 / scale} ${y - 16 / scale}) scale(${1 / scale})`);
    }
  }
  sizeFaults(view.scale());

  // -- volts along the rails

  const STEPS = [0, 1, 2.5, 5, 10];
  const worst = Object.entries(data.volts);
  if (!worst.length) at("shade").hidden = true;
  const steps = new Map(worst.filter(([piece]) => plan.numbers.has(piece))
    .map(([piece, [share]]) => [plan.numbers.get(piece), STEPS.filter((limit) => share >= limit).length - 1]));
  STEPS.forEach((limit, number) => {
    const next = STEPS[number + 1];
    const key = drawn("svg", {viewBox: "0 0 48 10", "aria-hidden": "true"});
    const group = drawn("g", {class: `heat-${number}`});
    group.append(drawn("path", {class: "rail", d: "M1 5H47"}));
    key.append(group);
    at("heat-legend").append(element("li", {}, key, next ? ` ${limit} to ${next} %` : ` ${limit} % and more`));
  });
  for (const radio of document.querySelectorAll("input[name=shade]")) {
    radio.addEventListener("change", () => shade(radio.value));
  }
  function shade(value) {
    if (value === "volts" && !drawing.classList.contains("heat")) plan.warm(steps);
    drawing.classList.toggle("heat", value === "volts");
    at("legend").hidden = value === "volts";
    at("heat-legend").hidden = value !== "volts";
  }

  // -- the meter

  const fields = [at("probe-0"), at("probe-1")];
  let listed = false;
  fields.forEach((field, which) => {
    field.addEventListener("focus", () => {
      if (listed) return;
      listed = true;
      at("rails").append(...data.rails.map((node) => element("option", {value: data.names[node]})));
    });
    field.addEventListener("change", () => {
      const node = nodeOf.get(field.value.trim());
      probe(which, node === undefined ? -1 : node);
      if (node === undefined && field.value.trim()) {
        at("beep").textContent = `There is no rail ${field.value.trim()}.`;
        at("volts-read").textContent = "–";
      }
    });
  });

  function probe(which, node) {
    probes[which] = node;
    if (node >= 0) fields[which].value = data.names[node];
    read();
    remember();
    if (node >= 0) say(`${which ? "Black" : "Red"} probe on ${data.names[node]}. ${at("beep").textContent} ${at("volts-read").textContent}`);
  }

  function read() {
    clear("probes");
    probes.forEach((node, which) => {
      const spot = plan.along(node, which ? 0.62 : 0.38);
      if (!spot) return;
      const mark = drawn("g", {class: `probe probe-${which}`, transform: `translate(${spot.join(" ")})`});
      mark.append(drawn("path", {d: which ? "M-4 -4h8v8h-8z" : "M0 -6L6 0 0 6 -6 0z"}));
      plan.above.append(mark);
      marks.get("probes").push(mark);
    });
    const [one, two] = probes;
    if (one < 0 || two < 0) {
      at("beep").textContent = "Put both probes on a rail.";
      at("volts-read").textContent = "–";
      return;
    }
    const heard = circuit.beep(one, two, state);
    at("beep").textContent = {
      beep: "It beeps: joined.",
      resists: "Joined only over a lamp, diode or resistor: it may stay silent.",
      silent: "Silent: not joined.",
    }[heard];
    at("beep").dataset.heard = heard;
    const volts = circuit.volts(one, two, found);
    at("volts-read").textContent = `${volts.text}.`;
    at("volts-read").dataset.what = volts.what;
    at("volts-read").dataset.volts = volts.volts ?? "";
  }

  // -- the train

  const pickTrain = at("train"), pickTrip = at("trip"), pickPiece = at("train-piece"), pickEnd = at("train-end");
  const push = at("push");
  trains.forEach((train, number) => pickTrain.append(element("option", {value: number}, train.name)));
  pickTrip.append(element("option", {value: ""}, "as the turnouts stand"));
  data.trips.forEach((trip, number) => pickTrip.append(element("option", {value: number}, trip.name)));
  for (const [name, , , routes] of data.pieces) if (routes.length) pickPiece.append(element("option", {value: name}, name));

  function ends() {
    const name = pickPiece.value, chosen = pickEnd.value;
    const list = [...new Set((track.piece.get(name)?.routes || []).flatMap(([n]) => data.shapes[n].slice(0, 2)))];
    pickEnd.replaceChildren(...list.map((end) => element("option", {value: end}, end)));
    if (list.includes(chosen)) pickEnd.value = chosen;
  }
  pickTrip.addEventListener("change", () => {
    const trip = data.trips[Number(pickTrip.value)];
    if (pickTrip.value === "" || !trip) return;
    push.value = 0;
    pickPiece.value = trip.start[0];
    ends();
    pickEnd.value = trip.start[1];
    set(circuit.withPositions(state, trip.set), `The route ${trip.name} is set`);
  });
  pickPiece.addEventListener("change", () => { ends(); push.value = 0; pickTrip.value = ""; lay(); remember(); });
  pickEnd.addEventListener("change", () => { push.value = 0; pickTrip.value = ""; lay(); remember(); });
  pickTrain.addEventListener("change", () => { lay(); remember(); });
  push.addEventListener("input", () => { roll(); remember(); });

  const train = () => trains[Number(pickTrain.value) || 0];

  function lay() {
    if (!pickPiece.value) return;
    way = track.run(pickPiece.value, pickEnd.value, state);
    const length = train().axles.at(-1);
    push.max = Math.max(0, Math.floor(way.length));
    push.min = Math.min(Number(push.max), Math.ceil(length));
    push.step = 1;
    const names = way.pieces.map((p) => p.piece);
    const key = JSON.stringify([pickTrain.value, way.pieces, [...way.left, ...way.right].map(([, , n]) => n < 0 ? "" : textOf(n))]);
    if (key === laid.key) {
      way = laid.way;
      roll();
      return;
    }
    at("way").textContent = `${names.length > 12 ? [...names.slice(0, 12), `${names.length - 12} more`].join(" – ") : names.join(" – ")}${
      names.length ? `, ${Math.round(way.length)} mm; ` : ""}${way.why}.`;
    at("way").dataset.pieces = JSON.stringify(names);
    const list = names.length ? troubles(circuit, way, train(), found) : [];
    const box = at("troubles");
    box.replaceChildren();
    if (list.length) {
      const items = list.slice(0, 30).map((t) => {
        const go = element("button", {type: "button"}, `${t.what === "short" ? "Shorts" : "Stops"} at ${Math.round(t.from)} to ${Math.round(t.to)} mm`);
        go.addEventListener("click", () => { push.value = (t.from + t.to) / 2; roll(); remember(); });
        return element("li", {class: t.what}, go, ` ${t.text}`);
      });
      box.append(element("ul", {class: "troubles"}, ...items));
      if (list.length > 30) box.append(element("p", {}, `and ${list.length - 30} more places`));
    } else if (way.length > length) {
      box.append(element("p", {}, "It runs all the way as the turnouts stand."));
    } else if (names.length) {
      box.append(element("p", {}, "The way is shorter than the train, or its length is not known."));
    }
    way.troubles = list;
    laid = {key, way};
    roll();
  }

  function roll() {
    clear("train");
    if (!way || !way.pieces.length) {
      at("ribbon").replaceChildren();
      at("train-says").textContent = "";
      return;
    }
    const place = Number(push.value), here = stand(circuit, way, train(), place, found);
    const under = [...new Set(here.wheels.map((w) => w.node).filter((n) => n >= 0))];
    for (const node of under) glow("train", node, "under");
    const head = way.pieces.find((p) => p.at <= place && place <= p.at + p.length);
    const words = {runs: "Runs", short: "Shorts", stalls: "Stands still"}[here.what];
    const changed = here.changed?.length ? ` (${here.changed.map((n) => data.devices[n][0]).join(", ")} changed over)` : "";
    at("train-says").textContent = `${words} on ${head?.piece ?? "?"} at ${Math.round(place)} mm: ${here.text}${changed}.`;
    at("train-says").dataset.what = here.what;
    push.setAttribute("aria-valuetext", `${Math.round(place)} mm, ${head?.piece ?? ""}, ${words.toLowerCase()}`);
    ribbon(place, here);
  }

  let wide = 600;                      // of the ribbon, in pixels
  new ResizeObserver(([entry]) => {
    wide = Math.max(240, Math.round(entry.contentRect.width));
    roll();
  }).observe(at("ribbon"));

  // The way as a straight ribbon: both rails with their poles and gaps, the train on them, trouble marked below.
  function ribbon(place, here) {
    const length = train().axles.at(-1), span = Math.max(500, length * 2.5);
    const edge = 14;
    const start = Math.max(0, Math.min(way.length - span, place - length / 2 - span / 2)), stop = Math.min(way.length, start + span);
    const scale = (wide - 2 * edge) / span, x = (mm) => (edge + (mm - start) * scale).toFixed(2);
    const svg = drawn("svg", {viewBox: `0 0 ${wide} 132`, role: "img", "aria-label": at("train-says").textContent});
    const inside = ([a, b]) => b > start && a < stop;
    for (const p of way.pieces) {
      if (!inside([p.at, p.at + p.length])) continue;
      const from = Math.max(start, p.at), text = drawn("text", {class: "label", x: Number(x(from)) + 4, y: 16});
      text.textContent = p.piece;
      svg.append(drawn("path", {class: "end", d: `M${x(p.at)} 6V112`}), text);
    }
    [way.left, way.right].forEach((side, number) => {
      const y = number ? 84 : 44;
      for (const [a, b, node] of side.filter(inside)) {
        if (node >= 0) svg.append(drawn("path", {class: `rail ${classOf(node)}`, d: `M${x(Math.max(a, start))} ${y}H${x(Math.min(b, stop))}`}));
        else svg.append(drawn("path", {class: "dead", d: `M${x(Math.max(a, start))} ${y}H${x(Math.min(b, stop))}`}));
      }
      for (const [gap] of way.gaps[number]) {
        if (inside([gap, gap])) svg.append(drawn("path", {class: "gap", d: `M${x(gap)} ${y - 9}v18`}));
      }
    });
    for (const t of way.troubles) {
      if (!inside([t.from, t.to])) continue;
      svg.append(drawn("path", {class: `trouble ${t.what}`, d: `M${x(t.from)} 118H${Math.max(Number(x(t.to)), Number(x(t.from)) + 2)}`}));
    }
    svg.append(drawn("rect", {class: `body ${here.what}`, x: x(place - length) - 6, y: 52, width: length * scale + 12, height: 24, rx: 6}));
    svg.append(drawn("path", {class: "front", d: `M${Number(x(place)) + 1} 58l8 6-8 6z`}));
    for (const wheel of here.wheels) svg.append(drawn("circle", {class: "wheel", cx: x(wheel.at), cy: wheel.side ? 84 : 44, r: 5}));
    at("ribbon").replaceChildren(svg);
  }

  // -- the address keeps the state

  let timer = 0, noted = null;
  function remember() {
    if (!started || timer) return;
    timer = setTimeout(() => {
      timer = 0;
      // each set of positions is a step of the browser's own history
      history[state === noted ? "replaceState" : "pushState"](null, "", `#${fragment()}`);
      noted = state;
    }, 150);
  }

  function fragment() {
    const parts = new URLSearchParams();
    state.forEach((value, v) => { if (value !== rest[v]) parts.append("set", `${data.variables[v][0]}=${data.variables[v][2][value]}`); });
    if (shown >= 0) parts.set("finding", shown + 1);
    probes.forEach((node, which) => { if (node >= 0) parts.set(which ? "black" : "red", data.names[node]); });
    if (pickPiece.value) {
      if (Number(pickTrain.value)) parts.set("train", train().name);
      if (pickTrip.value !== "") parts.set("route", data.trips[Number(pickTrip.value)].name);
      parts.set("from", `${pickPiece.value}.${pickEnd.value}`);
      parts.set("at", push.value);
    }
    return parts.toString();
  }

  function recall(hash) {
    const parts = new URLSearchParams(hash.slice(1));
    const next = rest.slice();
    for (const one of parts.getAll("set")) {
      const v = data.variables.findIndex(([name]) => one.startsWith(`${name}=`));
      const x = v < 0 ? -1 : data.variables[v][2].indexOf(one.slice(data.variables[v][0].length + 1));
      if (x >= 0) next[v] = x;
    }
    ["red", "black"].forEach((name, which) => {
      const node = nodeOf.get(parts.get(name));
      probes[which] = node === undefined ? -1 : node;
      fields[which].value = node === undefined ? "" : data.names[node];
    });
    const who = trains.findIndex(({name}) => name === parts.get("train"));
    pickTrain.value = Math.max(0, who);
    const from = parts.get("from") ?? "", dot = from.indexOf(".");
    if (track.piece.has(from.slice(0, dot))) pickPiece.value = from.slice(0, dot);
    else if (data.trips.length) pickPiece.value = data.trips[0].start[0];
    ends();
    if (from) pickEnd.value = from.slice(dot + 1);
    else if (data.trips.length) pickEnd.value = data.trips[0].start[1];
    if (pickEnd.selectedIndex < 0) ends();
    const trip = data.trips.findIndex(({name}) => name === parts.get("route"));
    pickTrip.value = trip < 0 ? "" : trip;
    set(next, "");
    push.value = parts.get("at") ?? 0;
    const number = Number(parts.get("finding")) - 1;
    if (number >= 0 && number < data.findings.length) showFinding(number, false);
    roll();
  }

  at("copy").addEventListener("click", async () => {
    const link = `${location.href.split("#")[0]}#${fragment()}`;
    try {
      await navigator.clipboard.writeText(link);
      at("copied").textContent = "Copied.";
    } catch {
      history.replaceState(null, "", `#${fragment()}`);
      at("copied").textContent = "It stands in the address line; copy it from there.";
    }
  });
  window.addEventListener("hashchange", (event) => {
    clearTimeout(timer);
    timer = 0;
    recall(new URL(event.newURL).hash);
    clearTimeout(timer);
    timer = 0;
    noted = state;
  });

  // -- saved and printed

  function save(name, type, text) {
    const link = element("a", {download: name, href: URL.createObjectURL(new Blob([text], {type}))});
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  }
  makeTables(goTo, save);
  makeSheet(data.sheet.expect && data.sheet, data.layout, {save, find: (parts) => goTo(parts.find(isDrawn) ?? parts[0] ?? "")});
  const walk = makeWalk(data, plan, {
    poleOf: spoken, positionOf: (v) => data.variables[v][2][state[v]], throwPiece, goTo,
    findingsOf: (piece) => findingsOf.get(piece) ?? [],
    showFinding: (number) => { showFinding(number, true); unfold(number); },
  });
  at("show-names").addEventListener("change", (event) => drawing.classList.toggle("named", event.target.checked));
  at("save-plan").addEventListener("click", () => {
    const copy = plan.whole(), {x, y, width, height} = view.whole;
    copy.prepend(drawn("style", {}, data.style + data.plan.style));
    copy.classList.remove("far", "heat");
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
    folded = [...document.querySelectorAll("details:not([open])")];
    for (const one of folded) one.open = true;
  });
  window.addEventListener("afterprint", () => { for (const one of folded) one.open = false; });

  for (const control of controls) control.show();
  recall(location.hash);
  started = true;
  noted = state;
  sizeFaults(view.scale());
  root.classList.add("ready");
})();
