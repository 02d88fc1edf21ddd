// The track: where a train runs as the turnouts stand, and what its wheels join. Nothing here touches the document.

const MOST_STEPS = 400;

function makeTrack(circuit) {
  const {data} = circuit;
  const piece = new Map(data.pieces.map(([name, kind, first, routes, moving]) =>
    [name, {name, kind, first, routes, moving}]));
  const beyond = new Map();
  const cuts = new Map();
  for (const [name, one, two] of data.joints) {
    for (const [here, there] of [[one, two], [two, one]]) {
      beyond.set(here[0] + "\n" + here[1], {joint: name, piece: there[0], end: there[1]});
      cuts.set(here[0] + "\n" + here[1], [here[2], here[3]]);
    }
  }

  // The step over a piece from one of its ends as the turnouts stand: {shape, forward}, or null where none is set.
  function step(name, end, state) {
    for (const [number, when] of piece.get(name).routes) {
      const shape = data.shapes[number];
      if ((shape[0] === end || shape[1] === end) && circuit.holds(when.length ? when : null, state)) {
        return {piece: name, number, shape, forward: shape[0] === end};
      }
    }
    return null;
  }

  // The way from an end into its piece and on, as the turnouts stand, and why it ends.
  function run(name, end, state) {
    const steps = [], used = new Set();
    let why = "";
    while (steps.length < MOST_STEPS) {
      const next = step(name, end, state);
      if (!next) {
        why = steps.length ? `${name} is set against it` : `no way is set through ${name} from there`;
        break;
      }
      const key = `${name}\n${next.number}`;
      if (used.has(key)) {
        why = `it comes round to ${name} again`;
        break;
      }
      used.add(key);
      steps.push(next);
      const leave = next.shape[next.forward ? 1 : 0], on = beyond.get(name + "\n" + leave);
      if (!on) {
        why = `the track ends at ${name}.${leave}`;
        break;
      }
      [name, end] = [on.piece, on.end];
    }
    return lay(steps, why);
  }

  // What lies under the wheels along a way, per side: stretches [start, stop, node or -1], gaps [place, node, node].
  function lay(steps, why) {
    const sides = [[], []], gaps = [[], []], pieces = [];
    let at = 0, before = null;
    for (const one of steps) {
      const [, , length, ahead, astern] = one.shape, first = piece.get(one.piece).first;
      const turned = one.forward ? [ahead, astern] : [astern, ahead].map((side) =>
        side.map(([rail, a, b]) => [rail, length - b, length - a]).reverse());
      const enter = one.shape[one.forward ? 0 : 1], leave = one.shape[one.forward ? 1 : 0];
      const cut = cuts.get(one.piece + "\n" + enter) || [0, 0];
      turned.forEach((side, number) => {
        side.forEach(([rail, a, b], index) => {
          const node = rail < 0 ? -1 : first + rail, last = sides[number].at(-1);
          const apart = index ? true : before !== null && cut[one.forward ? number : 1 - number];
          if (apart && last && last[2] >= 0 && node >= 0 && last[2] !== node) gaps[number].push([at + a, last[2], node]);
          sides[number].push([at + a, at + b, node]);
        });
      });
      pieces.push({piece: one.piece, enter, leave, at, length, forward: one.forward});
      before = one;
      at += length;
    }
    return {steps, pieces, left: sides[0], right: sides[1], gaps, length: at, why};
  }

  return {piece, beyond, run};
}

// -- a train on a way

// What a train gets with its first axle at `place` mm on the way: {what, text}; what is runs, short, stalls or off.
function stand(circuit, way, train, place, found) {
  const {data} = circuit, half = data.gap / 2;
  const under = [[], []];  // nodes that the pick-ups of each side touch
  const bridged = [];
  const wheels = [];
  train.axles.forEach((behind, index) => {
    const at = place - behind;
    if (at < 0 || at > way.length) return;
    const picks = [train.left.includes(index + 1), train.right.includes(index + 1)];
    const metal = train.bridging.includes(index + 1);
    [way.left, way.right].forEach((side, number) => {
      const near = nearestGap(way.gaps[number], at);
      const onGap = near && Math.abs(near[0] - at) < half ? near : null;
      const stretch = side[below(side, at)];
      if (onGap && (picks[number] || metal)) bridged.push([onGap[1], onGap[2]]);
      else if (!onGap && picks[number] && stretch && stretch[2] >= 0) under[number].push(stretch[2]);
      wheels.push({at, side: number, node: stretch ? stretch[2] : -1, stretch, gap: Boolean(onGap)});
    });
  });
  return {...judge(circuit, under, bridged, found), wheels};
}

// The number of the last entry that begins at or before a place, at least 0.
function below(list, place) {
  let low = 0, high = list.length;
  while (low + 1 < high) {
    const middle = (low + high) >> 1;
    if (list[middle][0] <= place) low = middle;
    else high = middle;
  }
  return low;
}

function nearestGap(gaps, place) {
  if (!gaps.length) return null;
  const at = below(gaps, place), next = gaps[at + 1];
  return next && next[0] - place < Math.abs(gaps[at][0] - place) ? next : gaps[at];
}

// Every automatic device may stand in either position; the best of them counts.
function judge(circuit, under, bridged, found) {
  const {data} = circuit;
  const plain = runsPlainly(circuit, under, bridged, found);
  if (plain) return plain;
  const nodes = [...under[0], ...under[1], ...bridged.flat()];
  const devices = new Set();
  for (const node of nodes) {
    for (const number of found.units(node) || []) devices.add(number);
    for (const pole of found.poles(node) || []) {
      if (circuit.deviceOfPole[pole] >= 0) devices.add(circuit.deviceOfPole[pole]);
    }
  }
  const list = [...devices].slice(0, 6);
  let best = null;
  for (let mask = 0; mask < 1 << list.length; mask++) {
    const one = judgeIn(circuit, under, bridged, found, new Map(list.map((n, i) => [n, (mask >> i) & 1])));
    if (!best || one.rank > best.rank) best = {...one, changed: list.filter((n, i) => (mask >> i) & 1)};
    if (best.rank === 2) break;
  }
  return best;
}

// The usual case at once: one pole on each side, both of one supply, no device, no gap under a wheel.
function runsPlainly(circuit, under, bridged, found) {
  if (bridged.length || !under[0].length || !under[1].length) return null;
  const sides = [-1, -1];
  for (let side = 0; side < 2; side++) {
    for (const node of under[side]) {
      const poles = found.poles(node);
      if (!poles || poles.length !== 1 || circuit.deviceOfPole[poles[0]] >= 0) return null;
      if (sides[side] >= 0 && sides[side] !== poles[0]) return null;
      sides[side] = poles[0];
    }
  }
  const [left, right] = sides.map((pole) => circuit.data.poles[pole]);
  if (left === right || !left[3].some((supply) => right[3].includes(supply))) return null;
  return {rank: 2, what: "runs", changed: [], text: `${left[0]} on the left, ${right[0]} on the right`};
}

function judgeIn(circuit, under, bridged, found, turned) {
  const {data} = circuit;
  const polesAt = (node) => {
    const all = new Set();
    for (const number of found.units(node) || []) all.add(data.devices[number][2][turned.get(number) ?? 0]);
    for (const pole of found.poles(node) || []) {
      const number = circuit.deviceOfPole[pole];
      if (number < 0) all.add(pole);
      else {
        const place = data.devices[number][3].indexOf(pole) ^ (turned.get(number) ?? 0);
        all.add(data.devices[number][2][place]);
      }
    }
    return all;
  };
  const union = (nodes) => {
    const all = new Set();
    for (const node of nodes) for (const pole of polesAt(node)) all.add(pole);
    return all;
  };
  const spoken = (set) => [...set].map((p) => data.poles[p][0]).sort(byCode).join(" and ");
  const clashing = (set) => [...set].some((p) => [...set].some((q) => data.clashes[p].includes(q)));
  for (const pair of bridged) {
    const met = union(pair);
    if (clashing(met)) {
      return {rank: 0, what: "short", text: `a wheel joins ${spoken(met)} at ${pair.map((n) => data.names[n]).join(" and ")}`};
    }
  }
  const sides = under.map(union);
  for (const [side, set] of sides.entries()) {
    if (clashing(set)) {
      return {rank: 0, what: "short", text: `the wheels on the ${side ? "right" : "left"} join ${spoken(set)}`};
    }
  }
  const [lefts, rights] = sides.map((set) => [...set]);
  for (const left of lefts) {
    for (const right of rights) {
      if (left !== right && data.poles[left][3].some((s) => data.poles[right][3].includes(s))) {
        return {rank: 2, what: "runs", text: `${data.poles[left][0]} on the left, ${data.poles[right][0]} on the right`};
      }
    }
  }
  const [left, right] = [lefts[0], rights[0]];
  if (left === undefined || right === undefined) {
    const none = [left === undefined && "left", right === undefined && "right"].filter(Boolean).join(" and the ");
    return {rank: 1, what: "stalls", text: `no current under the wheels on the ${none}`};
  }
  if (left === right) return {rank: 1, what: "stalls", text: `both sides are on ${data.poles[left][0]}`};
  return {rank: 1, what: "stalls", text: `${data.poles[left][0]} and ${data.poles[right][0]} are of two supplies`};
}

// Where along a way a train does not run: [{from, to, what, text}], exact, since only at breakpoints anything changes.
function troubles(circuit, way, train, found) {
  const marks = new Set([0, way.length]);
  const last = train.axles[train.axles.length - 1];
  const half = circuit.data.gap / 2;
  for (const behind of train.axles) {
    for (const [a, b] of [...way.left, ...way.right]) marks.add(a + behind).add(b + behind);
    for (const [at] of way.gaps.flat()) marks.add(at - half + behind).add(at + half + behind);
  }
  const places = [...marks].filter((x) => x >= last && x <= way.length).sort((a, b) => a - b);
  if (last <= way.length) places.unshift(last);
  const result = [];
  for (let i = 1; i < places.length; i++) {
    if (places[i] - places[i - 1] < 1e-6) continue;
    const here = stand(circuit, way, train, (places[i] + places[i - 1]) / 2, found);
    if (here.what === "runs") continue;
    const before = result[result.length - 1];
    if (before && before.what === here.what && Math.abs(before.to - places[i - 1]) < 1e-6) before.to = places[i];
    else result.push({from: places[i - 1], to: places[i], what: here.what, text: here.text});
  }
  return result;
}
