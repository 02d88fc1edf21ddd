// The page: what is pressed, tapped and pushed. Everything is written as text, never as HTML.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const circuit = makeCircuit(data), track = makeTrack(circuit);
  const at = (id) => document.getElementById(id);
  const root = document.documentElement;
  const SVG = "http://www.w3.org/2000/svg";
  root.classList.add("js");

  const rest = data.state.slice();
  let state = rest.slice();
  let found = circuit.look(state);
  let shown = -1;                      // the finding that is lit
  const probes = [-1, -1];
  let way = null;
  let laid = {};                       // the way that stands on the page, and what it depends on
  const nodeOf = new Map(data.names.map((name, node) => [name, node]));
  const trains = data.trains.length ? data.trains : [
    {name: "four axles", axles: [0, 30, 120, 150], left: [1, 2, 3, 4], right: [1, 2, 3, 4], bridging: []}];

  function element(name, attributes = {}, ...inner) {
    const made = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    made.append(...inner);
    return made;
  }

  function drawn(name, attributes = {}) {
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    return made;
  }

  // -- what is on the page

  const sheet = at("sheet");
  const plan = sheet.querySelector("svg.plan");
  const railPaths = new Map();         // node -> its paths on the plan
  function known(path) {
    const node = nodeOf.get(path.dataset.rail);
    if (node === undefined) return;
    if (!railPaths.has(node)) railPaths.set(node, []);
    railPaths.get(node).push(path);
  }
  for (const path of plan.querySelectorAll("path.rail[data-rail]")) known(path);
  const letterOf = new Map();
  for (const text of plan.querySelectorAll("text.letter[data-for]")) letterOf.set(nodeOf.get(text.dataset.for), text);
  const LETTERS = {"pole-A": "A", "pole-B": "B", "pole-both": "A+B", "pole-none": "0", "pole-unit": "U"};
  const pieceGroups = new Map();
  for (const group of plan.querySelectorAll("g.piece[data-piece]")) {
    if (!pieceGroups.has(group.dataset.piece)) pieceGroups.set(group.dataset.piece, []);
    pieceGroups.get(group.dataset.piece).push(group);
  }
  const cells = new Map();
  for (const row of document.querySelectorAll("#table-rails tbody tr")) {
    cells.set(Number(row.dataset.node), row.querySelector("td.pole"));
  }
  const CLASSES = ["pole-none", "pole-A", "pole-B", "pole-both", "pole-unit"];
  const letters = data.poles.map(([, letter]) => letter);

  function classOf(node) {
    const poles = found.poles(node), units = found.units(node);
    if (poles) return poles.length > 1 ? "pole-both" : `pole-${letters[poles[0]]}`;
    return units ? (units.length > 1 ? "pole-both" : "pole-unit") : "pole-none";
  }

  function textOf(node) {
    return circuit.named(node, found).join("+") || "none";
  }

  function paint(before) {
    circuit.differing(before, found, (node) => {
      const kind = classOf(node), cell = cells.get(node);
      for (const path of railPaths.get(node) || []) swap(path, kind, node);
      const letter = letterOf.get(node);
      if (letter) {
        letter.textContent = LETTERS[kind];
        swap(letter, kind);
      }
      if (cell) {
        cell.textContent = textOf(node);
        swap(cell, kind);
      }
    });
  }

  function swap(one, kind, node = -1) {
    one.classList.remove(...CLASSES);
    one.classList.add(kind);
    const title = node >= 0 && one.querySelector("title");
    if (title) title.textContent = `${data.names[node]}: ${circuit.named(node, found).join(" and ") || "no pole"}`;
  }

  // The rails of a piece as its blades stand now, in place of those drawn before.
  function redraw(piece) {
    const [group] = pieceGroups.get(piece) || [], ways = data.moved[piece];
    const rails = ways?.[bars.get(piece).map((v) => state[v]).join(" ")];
    if (!group || !rails) return;
    const old = [...group.querySelectorAll("path.rail, path.plastic")], place = old.at(-1)?.nextSibling ?? null;
    for (const node of railsOf(piece)) railPaths.delete(node);
    for (const one of old) one.remove();
    for (const [rail, d] of rails) {
      const path = drawn("path", {d, class: rail ? "rail" : "plastic"});
      if (rail) {
        path.dataset.rail = `${piece}.${rail}`;
        path.append(drawn("title"));
        known(path);
        const node = nodeOf.get(path.dataset.rail);
        swap(path, classOf(node), node);
      }
      group.insertBefore(path, place);
    }
    samples = null;
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

  function move(variable, value) {
    const next = state.slice();
    next[variable] = value;
    const [name, , positions] = data.variables[variable];
    set(next, `${name} at ${positions[value]}`);
  }

  function set(next, said) {
    performance.mark("throw-begins");
    const changed = [];
    next.forEach((value, v) => { if (value !== state[v]) changed.push(v); });
    const before = found;
    state = next;
    found = circuit.look(state);
    for (const v of changed) controls[v]?.show();
    for (const who of ["finding", "train", "probes"]) clear(who);
    for (const piece of new Set(changed.flatMap((v) => movedBy[v]))) redraw(piece);
    paint(before);
    const cube = circuit.ruledOut(state);
    const shorts = circuit.joinedRails(found);
    const words = [said];
    if (cube) words.push(`ruled out: ${cube.map(([v, x]) => `${data.variables[v][0]} ${data.variables[v][2][x]}`).join(" with ")} is never set`);
    if (shorts) words.push(`poles are joined at ${shorts} rail${shorts > 1 ? "s" : ""}`);
    if (said) say(`${words.join("; ")}.`);
    light();
    read();
    lay();
    remember();
    performance.measure("throw", "throw-begins");
  }

  // -- the plan: where a tap falls, its size

  let samples = null;
  function nearest(event) {
    const matrix = plan.getScreenCTM().inverse();
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix);
    samples ??= sampled();
    let best = -1, least = Infinity;
    for (const [node, x, y] of samples) {
      const away = (x - point.x) ** 2 + (y - point.y) ** 2;
      if (away < least) [least, best] = [away, node];
    }
    const scale = Math.hypot(matrix.a, matrix.b);
    return Math.sqrt(least) <= 40 * scale ? best : -1;
  }

  function sampled() {
    const list = [], back = plan.getScreenCTM().inverse();
    for (const [node, paths] of railPaths) {
      for (const path of paths) {
        const length = path.getTotalLength(), matrix = back.multiply(path.getScreenCTM());
        const count = Math.max(2, Math.min(24, Math.round(length / 12)));
        for (let i = 0; i <= count; i++) {
          const p = path.getPointAtLength(length * i / count).matrixTransform(matrix);
          list.push([node, p.x, p.y]);
        }
      }
    }
    return list;
  }

  const railsByPiece = new Map();
  for (const node of data.rails) {
    const piece = pieceOf(node);
    if (railsByPiece.has(piece)) railsByPiece.get(piece).push(node);
    else railsByPiece.set(piece, [node]);
  }
  const bars = new Map(data.pieces.map(([name, , , , moving]) => [name, moving]));
  const movedBy = data.variables.map(() => []);
  for (const [piece, moving] of bars) for (const v of moving) movedBy[v].push(piece);
  plan.addEventListener("click", (event) => {
    const group = event.target.closest?.("g.piece");
    const node = nearest(event);
    const piece = group?.dataset.piece ?? (node >= 0 ? pieceOf(node) : "");
    const mode = document.querySelector("input[name=tap]:checked").value;
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
      if (piece) say(`${piece}: ${railsOf(piece).map((n) => `${shortName(n)} ${textOf(n)}`).join(", ")}. Nothing moves on it.`);
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
    return data.names[node].slice(0, data.names[node].indexOf("."));
  }

  function shortName(node) {
    return data.names[node].slice(data.names[node].indexOf(".") + 1);
  }

  function railsOf(piece) {
    return railsByPiece.get(piece) || [];
  }

  for (const [piece, groups] of pieceGroups) {
    if (bars.get(piece)?.length) for (const group of groups) group.classList.add("throws");
  }

  // The plan opens at its own size, or as wide as there is room where it is smaller; Fit shows all of it.
  const own = plan.viewBox.baseVal.width;
  let zoom = 1;
  function size(value) {
    zoom = value;
    plan.style.width = zoom === 0 ? "100%" : `max(${zoom === 1 ? 100 : 0}%, ${Math.round(own * zoom)}px)`;
    samples = null;
  }
  function sized(by) {
    const now = zoom || sheet.clientWidth / own;
    size(Math.min(8, Math.max(0.1, now * by)));
  }
  size(own < 1.5 * sheet.clientWidth ? 0 : 1);
  at("larger").addEventListener("click", () => sized(1.4));
  at("smaller").addEventListener("click", () => sized(1 / 1.4));
  at("fit").addEventListener("click", () => size(0));

  // -- lit paths

  const marks = new Map();             // what is laid over the plan, by who laid it
  function clear(who) {
    for (const one of marks.get(who) || []) one.remove();
    marks.set(who, []);
  }
  function glow(who, node, kind) {
    for (const path of railPaths.get(node) || []) {
      const copy = drawn("path", {d: path.getAttribute("d"), class: `glow ${kind}`});
      if (path.hasAttribute("transform")) copy.setAttribute("transform", path.getAttribute("transform"));
      path.before(copy);
      marks.get(who).push(copy);
    }
  }

  function light() {
    clear("finding");
    if (shown < 0) return;
    for (const node of litNodes()) glow("finding", node, "lit");
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
      if (shown >= 0) at("plan-head").scrollIntoView({block: "start"});
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
      say("Nothing is lit.");
      remember();
      return;
    }
    const {set: wanted, path} = data.findings[number];
    const named = wanted.map(([v, x]) => `${data.variables[v][0]} at ${data.variables[v][2][x]}`).join(", ");
    const next = positions ? circuit.withPositions(state, wanted) : state;
    set(next, `Finding ${number + 1} is lit${named ? `, with ${named}` : ", in any position"}${
      path.length > 1 && !circuit.conducts(path, next) ? "; part of its path is made by a wheel or a moving contact" : ""}`);
    const first = litNodes().map((n) => railPaths.get(n)?.[0]).find(Boolean);
    first?.closest("g.piece")?.scrollIntoView?.({block: "nearest", inline: "center"});
  }

  // -- volts along the rails

  const STEPS = [0, 1, 2.5, 5, 10];
  const worst = Object.entries(data.volts);
  if (!worst.length) at("shade").hidden = true;
  for (const [piece, [share]] of worst) {
    const step = STEPS.filter((limit) => share >= limit).length - 1;
    for (const group of pieceGroups.get(piece) || []) group.classList.add(`heat-${step}`);
  }
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
    plan.classList.toggle("heat", value === "volts");
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
      const path = railPaths.get(node)?.[0];
      if (!path) return;
      const p = path.getPointAtLength(path.getTotalLength() * (which ? 0.62 : 0.38));
      const mark = drawn("g", {class: `probe probe-${which}`, transform: `translate(${p.x} ${p.y})`});
      mark.append(drawn("path", {d: which ? "M-4 -4h8v8h-8z" : "M0 -6L6 0 0 6 -6 0z"}));
      path.after(mark);
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
      if (list.length > 30) box.append(element("p", {}, `and ${list.length - 30} places more`));
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

  // -- tables

  for (const table of document.querySelectorAll("details.table table")) {
    const body = table.tBodies[0], heads = [...table.tHead.rows[0].cells];
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
    const title = table.closest("details").querySelector("summary").textContent;
    table.closest(".wide").before(element("label", {class: "find"}, `Find in ${title.replace(/ \([\d,]+\)$/, "").toLowerCase()} `, input), count);
    input.addEventListener("input", () => {
      const wanted = input.value.trim().toLowerCase();
      let left = 0;
      for (const row of body.rows) {
        row.hidden = !row.textContent.toLowerCase().includes(wanted);
        left += !row.hidden;
      }
      count.textContent = wanted ? `${left} of ${body.rows.length}` : "";
    });
  }

  // -- the address keeps the state

  let timer = 0;
  function remember() {
    if (!started || timer) return;
    timer = setTimeout(() => { timer = 0; history.replaceState(null, "", `#${fragment()}`); }, 150);
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
  });
  window.addEventListener("resize", () => { samples = null; });

  // On paper everything is unfolded.
  let folded = [];
  window.addEventListener("beforeprint", () => {
    folded = [...document.querySelectorAll("details:not([open])")];
    for (const one of folded) one.open = true;
  });
  window.addEventListener("afterprint", () => { for (const one of folded) one.open = false; });

  const collator = new Intl.Collator(undefined, {numeric: true});
  let started = false;
  for (const control of controls) control.show();
  recall(location.hash);
  started = true;
  root.classList.add("ready");
})();
