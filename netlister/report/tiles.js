// The plan: merged lines from afar, elements of their own near by; every rail by the poles that it has.
// Places come in tenths; a line is told by the place where it begins and relative steps.
const SVG = "http://www.w3.org/2000/svg";

function drawn(name, attributes = {}, ...inner) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...inner);
  return made;
}

// The points of a line, as the plan has it.
function pointsOf(x, y, rest) {
  const points = [[x, y]];
  const numbers = (rest.match(/-?(?:\d+\.?\d*|\.\d+)/g) ?? []).map(Number);
  for (let i = 0; i + 1 < numbers.length; i += 2) points.push([x += numbers[i], y += numbers[i + 1]]);
  return points;
}

// `kindOf`: the class of a rail; `saidOf`: what it has, in words; `stateOf`: the positions as they are.
function makePlan(svg, data, {kindOf, saidOf, stateOf}) {
  const {classes, lines, forms, rails, pieces, kinds, things, tiles: boxes} = data.plan;
  const LETTERS = {"pole-A": "A", "pole-B": "B", "pole-both": "A+B", "pole-none": "0", "pole-unit": "U"};
  const POLES = Object.keys(LETTERS);
  const FEW = 200;                     // pieces up to which all of them are elements, always
  const KEPT = 40;                     // tiles that are kept when they are no longer near
  const BUDGET = 10;                   // ms of a frame in which tiles are drawn
  const few = pieces.length <= FEW;
  const numbers = new Map(data.pieces.map(([name], number) => [name, number]));
  const owner = new Map();             // node of a rail -> number of its piece
  const railsOf = data.pieces.map(() => []);
  const firsts = data.pieces.map(([, , first], number) => [first, number]).sort((a, b) => a[0] - b[0]);
  let k = 0;
  for (const node of [...data.rails].sort((a, b) => a - b)) {
    while (k + 1 < firsts.length && firsts[k + 1][0] <= node) k++;
    owner.set(node, firsts[k][1]);
    railsOf[firsts[k][1]].push(node);
  }
  const thingByName = new Map();
  const nameOf = ([kind, name]) => kinds[kind] === "joint" ? data.joints[name][0] : name;
  for (const one of things) if (!thingByName.has(nameOf(one))) thingByName.set(nameOf(one), one);
  const tiles = boxes.map((box) => ({box: box.map((v) => v / 10), pieces: [], things: [], near: null, dirty: false}));
  pieces.forEach((row, number) => tiles[row.at(-1)].pieces.push(number));
  things.forEach((row) => tiles[row.at(-1)].things.push(row));
  // What is not seen is not part of the page: a browser lays out even what is hidden each time the plan moves.
  const below = drawn("g", {class: "below"}), afar = drawn("g"), live = drawn("g"), above = drawn("g", {class: "above"});
  const ground = svg.querySelector(".paper");
  ground.after(below, afar);
  svg.append(live, above);
  for (const one of svg.querySelectorAll("g.merged")) {
    const tile = tiles[one.dataset.tile];
    [tile.merged, tile.names] = [one, one.querySelector("g.label")];
    one.remove();
  }
  const paths = new Map(), letters = new Map(), groups = new Map();
  let heat = null;                     // piece number -> step of the volts lost, once they are shown
  let seen = null, scale = 1, waiting = 0;  // nothing is seen before the view says what

  // -- where everything lies

  const cached = new Map();            // piece -> its stretches of rail as they are now
  function stretches(number) {
    let found = cached.get(number);
    if (!found) {
      const [x, y, arrangement] = pieces[number], ways = rails[arrangement], state = stateOf();
      const row = ways[data.pieces[number][4].map((v) => state[v]).join(" ")] ?? ways[""] ?? Object.values(ways)[0] ?? [];
      found = [];
      for (let i = 0; i < row.length; i += 4) {
        found.push({node: row[i] < 0 ? -1 : data.pieces[number][2] + row[i], x: (x + row[i + 1]) / 10, y: (y + row[i + 2]) / 10, rest: lines[row[i + 3]]});
      }
      cached.set(number, found);
    }
    return found;
  }

  function stretchesOf(node) {
    return owner.has(node) ? stretches(owner.get(node)).filter((one) => one.node === node) : [];
  }

  const shapes = new Map();            // piece -> {box, lines: [[node, points]]}
  function shapeOf(number) {
    let found = shapes.get(number);
    if (!found) {
      const listed = stretches(number).map(({node, x, y, rest}) => [node, pointsOf(x, y, rest)]);
      const box = [Infinity, Infinity, -Infinity, -Infinity];
      for (const [, points] of listed) for (const [x, y] of points) grow(box, x, y);
      shapes.set(number, found = {box, lines: listed});
    }
    return found;
  }

  function grow(box, x, y) {
    box[0] = Math.min(box[0], x);
    box[1] = Math.min(box[1], y);
    box[2] = Math.max(box[2], x);
    box[3] = Math.max(box[3], y);
  }

  // The rail nearest to a point, as a node; -1 where none is within `most`.
  function nearest(px, py, most) {
    let best = -1, least = most ** 2;
    for (const tile of tiles) {
      if (!touches(tile.box, px - most, py - most, px + most, py + most)) continue;
      for (const number of tile.pieces) {
        const {box, lines: listed} = shapeOf(number);
        if (!touches(box, px - most, py - most, px + most, py + most)) continue;
        for (const [node, points] of listed) {
          if (node < 0) continue;
          for (let i = 1; i < points.length; i++) {
            const away = distance(px, py, points[i - 1], points[i]);
            if (away < least) [least, best] = [away, node];
          }
        }
      }
    }
    return best;
  }

  function touches([a, b, c, d], x, y, x2, y2) {
    return a <= x2 && c >= x && b <= y2 && d >= y;
  }

  function distance(px, py, [ax, ay], [bx, by]) {
    const dx = bx - ax, dy = by - ay, whole = dx * dx + dy * dy;
    const t = whole ? Math.max(0, Math.min(1, ((px - ax) * dx + (py - ay) * dy) / whole)) : 0;
    return (ax + t * dx - px) ** 2 + (ay + t * dy - py) ** 2;
  }

  function boxOf(names) {
    const box = [Infinity, Infinity, -Infinity, -Infinity];
    for (const name of names) {
      if (!numbers.has(name)) continue;
      const own = shapeOf(numbers.get(name)).box;
      if (own[0] <= own[2]) for (const i of [0, 2]) grow(box, own[i], own[i + 1]);
    }
    return rectangle(box);
  }

  function rectangle([x, y, right, low]) {
    return x <= right ? {x, y, width: right - x, height: low - y} : null;
  }

  // A joint, feed, contact and so on: around its marks.
  function boxOfThing(name) {
    const one = thingByName.get(name);
    if (!one) return null;
    const [, , , x, y, form, texts] = one, box = [Infinity, Infinity, -Infinity, -Infinity];
    eachMark(x, y, form, (kind, mx, my, rest) => {
      if (kind !== "lead") for (const [px, py] of pointsOf(mx, my, rest)) grow(box, px, py);
    });
    if (!forms[form].length) grow(box, (x + (texts[1] ?? 0)) / 10, (y + (texts[2] ?? 0)) / 10);
    return rectangle(box);
  }

  // A place along a rail, by its share of the longest stretch.
  function along(node, share) {
    let best = null, most = -1;
    for (const {x, y, rest} of stretchesOf(node)) {
      const points = pointsOf(x, y, rest), lengths = points.slice(1).map((p, i) => Math.hypot(p[0] - points[i][0], p[1] - points[i][1]));
      const whole = lengths.reduce((a, b) => a + b, 0);
      if (whole > most) [best, most] = [{points, lengths}, whole];
    }
    if (!best) return null;
    let left = most * share;
    for (let i = 0; i < best.lengths.length; i++) {
      if (left <= best.lengths[i] || i === best.lengths.length - 1) {
        const t = best.lengths[i] ? Math.min(1, left / best.lengths[i]) : 0, [a, b] = [best.points[i], best.points[i + 1]];
        return [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
      }
      left -= best.lengths[i];
    }
    return best.points[0];
  }

  // -- drawn near by

  function eachMark(x, y, form, draw) {
    const row = forms[form];
    for (let i = 0; i < row.length; i += 4) draw(classes[row[i]], (x + row[i + 1]) / 10, (y + row[i + 2]) / 10, lines[row[i + 3]]);
  }

  function text(kind, x, y, said, more = {}) {
    return drawn("text", {class: kind, x: x / 10, y: y / 10, ...more}, said);
  }

  function pieceGroup(number) {
    const [x, y, , form, spots, nx, ny] = pieces[number], [name, , first, , moving] = data.pieces[number];
    const group = drawn("g", {class: `piece${moving.length ? " throws" : ""}${heat?.has(number) ? ` heat-${heat.get(number)}` : ""}`, "data-piece": name});
    eachMark(x, y, form, (kind, mx, my, rest) => { if (kind === "pit") group.append(drawn("path", {class: kind, d: `M${mx} ${my}${rest}`})); });
    addRails(group, number, null);
    eachMark(x, y, form, (kind, mx, my, rest) => { if (kind !== "pit") group.append(drawn("path", {class: kind, d: `M${mx} ${my}${rest}`})); });
    for (let i = 0; i < spots.length; i += 3) {
      const node = first + spots[i], kind = kindOf(node);
      const letter = text(`letter ${kind}`, x + spots[i + 1], y + spots[i + 2], LETTERS[kind], {"data-for": data.names[node]});
      letters.set(node, letter);
      group.append(letter);
    }
    group.append(text("label", x + nx, y + ny, name, {"data-for": name}));
    groups.set(number, group);
    return group;
  }

  function addRails(group, number, before) {
    for (const {node, x, y, rest} of stretches(number)) {
      const path = drawn("path", {class: node < 0 ? "plastic" : `rail ${kindOf(node)}`, d: `M${x} ${y}${rest}`});
      if (node >= 0) {
        path.dataset.rail = data.names[node];
        if (!paths.has(node)) paths.set(node, []);
        paths.get(node).push(path);
      }
      group.insertBefore(path, before);
    }
  }

  function saidOfThing(one) {
    const [kind, name, title] = one;
    if (kinds[kind] === "feed") return `${name}: ${one[7].filter((_, i) => i % 3 === 0).join(", ")}`;
    if (kinds[kind] !== "joint") return title || name;
    const [joint, [piece, end, left, right]] = data.joints[name];
    const cut = left && right ? "both rails" : left ? "the left rail" : "the right rail";
    return left || right ? `${joint}: insulated in ${cut}, seen along ${piece} (end ${end})` : `${joint}: metal joiners`;
  }

  function thingGroup(one) {
    const [kind, , , x, y, form, texts, small] = one, name = nameOf(one);
    const group = drawn("g", {class: kinds[kind], [`data-${kinds[kind]}`]: name}, drawn("title", {}, saidOfThing(one)));
    eachMark(x, y, form, (mark, mx, my, rest) => group.append(drawn("path", {class: mark, d: `M${mx} ${my}${rest}`})));
    for (let i = 0; i < texts.length; i += 3) group.append(text("tag", x + texts[i + 1], y + texts[i + 2], texts[i] || name));
    for (let i = 0; i < small.length; i += 3) group.append(text("small names", x + small[i + 1], y + small[i + 2], small[i] || name));
    return group;
  }

  function build(tile) {
    tile.near = drawn("g", {class: "near"}, ...tile.pieces.map(pieceGroup), ...tile.things.map(thingGroup));
    tile.merged?.remove();
    live.append(tile.near);
  }

  function drop(tile) {
    tile.near.remove();
    tile.near = null;
    for (const number of tile.pieces) {
      groups.delete(number);
      for (const node of railsOf[number]) {
        paths.delete(node);
        letters.delete(node);
      }
    }
  }

  // -- drawn from afar

  function refresh(tile) {
    if (!tile.merged || !tile.dirty) return;
    tile.dirty = false;
    const joined = new Map(), signs = new Map();
    for (const number of tile.pieces) {
      const step = heat?.has(number) ? ` heat-${heat.get(number)}` : "", [x, y, , , spots] = pieces[number];
      for (const {node, x: rx, y: ry, rest} of stretches(number)) {
        const kind = node < 0 ? "plastic" : `rail ${kindOf(node)}${step}`;
        joined.set(kind, `${joined.get(kind) ?? ""}M${rx} ${ry}${rest}`);
      }
      for (let i = 0; i < spots.length; i += 3) {
        const kind = kindOf(data.pieces[number][2] + spots[i]);
        if (!signs.has(kind)) signs.set(kind, []);
        signs.get(kind).push([(x + spots[i + 1]) / 10, (y + spots[i + 2]) / 10]);
      }
    }
    for (const one of [...tile.merged.querySelectorAll(".rail, .plastic, .letter")]) one.remove();
    const place = [...tile.merged.children].find((one) => !one.classList.contains("pit")) ?? null;
    for (const [kind, d] of joined) tile.merged.insertBefore(drawn("path", {class: kind, d}), place);
    for (const [kind, spots] of signs) {
      const said = LETTERS[kind], single = said.length === 1;
      for (const some of single ? [spots] : spots.map((spot) => [spot])) {
        tile.merged.append(drawn("text", {class: `letter ${kind}`, x: some.map(([x]) => x).join(" "), y: some.map(([, y]) => y).join(" ")}, single ? said.repeat(some.length) : said));
      }
    }
  }

  // -- what is seen, and what has changed

  function stand(one, there, where) {
    if (!one || (one.parentNode === where) === there) return;
    if (there) where.append(one);
    else one.remove();
  }

  // A part of the plan is seen, so many pixels for one unit: what is near becomes elements, a few tiles in a frame.
  function see(box, by) {
    [seen, scale] = [box, by];
    if (few || !seen) return;
    const {x, y, width, height} = seen, far = svg.classList.contains("far"), named = !svg.classList.contains("remote");
    const inView = ({box: own}) => touches(own, x - 60, y - 60, x + width + 60, y + height + 60);
    for (const tile of tiles) {
      const here = inView(tile), merged = here && (far || !tile.near);
      if (merged) refresh(tile);
      stand(tile.merged, merged, afar);
      stand(tile.names, named, tile.merged);
      stand(tile.near, here && !far, live);
    }
    if (far) return;
    const before = performance.now(), missing = tiles.filter((tile) => !tile.near && inView(tile));
    while (missing.length && performance.now() - before < BUDGET) build(missing.pop());
    const idle = tiles.filter((tile) => tile.near && !inView(tile));
    for (const tile of idle.slice(KEPT)) drop(tile);
    if (missing.length && !waiting) waiting = requestAnimationFrame(() => { waiting = 0; see(seen, scale); });
  }

  function swap(one, kind) {
    one.classList.remove(...POLES);
    one.classList.add(kind);
  }

  // Rails have other poles, and pieces stand otherwise.
  function paint(nodes, moved) {
    for (const number of moved) {
      cached.delete(number);
      shapes.delete(number);
      const tile = tiles[pieces[number].at(-1)], group = groups.get(number);
      tile.dirty = true;
      if (!group) continue;
      const old = [...group.querySelectorAll("path.rail, path.plastic")], place = old.at(-1)?.nextSibling ?? null;
      for (const node of railsOf[number]) paths.delete(node);
      for (const one of old) one.remove();
      addRails(group, number, place);
    }
    for (const node of nodes) {
      const number = owner.get(node);
      if (number === undefined) continue;
      tiles[pieces[number].at(-1)].dirty = true;
      const kind = kindOf(node), letter = letters.get(node);
      for (const path of paths.get(node) ?? []) swap(path, kind);
      if (letter) {
        letter.textContent = LETTERS[kind];
        swap(letter, kind);
      }
    }
    see(seen, scale);
  }

  function warm(steps) {
    heat = steps;
    for (const [number, group] of groups) if (heat.has(number)) group.classList.add(`heat-${heat.get(number)}`);
    for (const tile of tiles) tile.dirty = true;
    see(seen, scale);
  }

  svg.addEventListener("pointerover", (event) => {
    const path = event.target.closest?.("path.rail[data-rail]");
    if (!path) return;
    const title = path.querySelector("title") ?? path.appendChild(drawn("title"));
    title.textContent = `${path.dataset.rail}: ${saidOf(path.dataset.rail)}`;
  });

  // On paper the merged tiles, as they are now.
  window.addEventListener("beforeprint", () => {
    if (few) return;
    for (const tile of tiles) {
      refresh(tile);
      stand(tile.merged, true, afar);
      stand(tile.names, true, tile.merged);
    }
  });

  // A drawing of all of it, an element for each piece.
  function whole() {
    const copy = svg.cloneNode(false);
    const made = (tile) => tile.near?.cloneNode(true) ?? drawn("g", {}, ...tile.pieces.map(pieceGroup), ...tile.things.map(thingGroup));
    const kept = [paths, letters, groups].map((map) => [map, new Map(map)]);
    copy.append(ground.cloneNode(), ...tiles.map(made), ...[...svg.querySelectorAll(":scope > .legend")].map((one) => one.cloneNode(true)));
    for (const [map, before] of kept) {
      map.clear();
      for (const [key, value] of before) map.set(key, value);
    }
    return copy;
  }

  if (few) {
    for (const tile of tiles) {
      build(tile);
      tile.merged = null;
    }
    svg.classList.add("few");
  }

  // All track as one line, for the overview.
  function track() {
    let d = "";
    for (let number = 0; number < pieces.length; number++) {
      const first = stretches(number)[0];
      if (!first) continue;
      const points = pointsOf(first.x, first.y, first.rest), last = points.at(-1);
      d += `M${first.x} ${first.y}L${last[0].toFixed(1)} ${last[1].toFixed(1)}`;
    }
    return d;
  }

  return {
    few, numbers, owner, railsOf, things, thingByName, nameOf, saidOfThing, below, above,
    stretchesOf, nearest, boxOf, boxOfThing, along, see, paint, warm, whole, track,
    drawn: (node) => stretchesOf(node).length > 0,
  };
}
