"use strict";
// The circuit in the page: poles by walking from each pole, paths, what a meter reads, what a train stands on.
// Nothing here touches the document. Nodes are numbers; those below `poles.length` are the poles.

function makeCircuit(data) {
  const count = data.names.length, poleCount = data.poles.length;
  const near = Array.from({length: count}, () => []);
  const conductors = data.conductors.map(([a, b, what, owner, when]) => {
    const one = {a, b, what: data.whats[what], owner: data.owners[owner], when: when || null};
    one.resists = one.what === "component" ? data.resisting[one.owner] || "" : "";
    one.oneWay = one.resists === "diode" && data.facing;
    near[a].push(b, one);
    near[b].push(a, one);
    return one;
  });
  const rails = new Set(data.rails), deviceNumber = new Map(data.devices.map(([name], n) => [name, n]));
  const deviceOfPole = data.poles.map(([, , device]) => deviceNumber.get(device) ?? -1);

  function holds(when, state) {
    if (when === null) return true;
    for (const [variable, values] of when) if (!values.includes(state[variable])) return false;
    return true;
  }

  // What always conducts is one net, as long as no pole is part of it; the poles stay nets of their own.
  const leader = Int32Array.from({length: count}, (_, node) => node);
  function lead(node) {
    while (leader[node] !== node) node = leader[node] = leader[leader[node]];
    return node;
  }
  for (const {a, b, when, oneWay} of conductors) {
    if (when === null && a >= poleCount && b >= poleCount && !oneWay) leader[lead(a)] = lead(b);
  }
  const netOf = new Int32Array(count), nets = [];
  {
    const numbers = new Map();
    for (let node = 0; node < count; node++) {
      const first = lead(node);
      if (!numbers.has(first)) numbers.set(first, nets.push([]) - 1);
      netOf[node] = numbers.get(first);
      nets[netOf[node]].push(node);
    }
  }
  const around = nets.map(() => []);   // per net: the net beyond, the condition or null
  const through = nets.map(() => []);  // per net: the net beyond a diode, 1 with its current or -1 against it
  {
    const known = new Set();
    for (const {a, b, when, oneWay} of conductors) {
      const [x, y] = [netOf[a], netOf[b]];
      if (x === y) continue;
      if (oneWay) {
        through[x].push(y, 1);
        through[y].push(x, -1);
        continue;
      }
      if (when === null) {
        const key = x * nets.length + y;
        if (known.has(key)) continue;
        known.add(key).add(y * nets.length + x);
      }
      around[x].push(y, when);
      around[y].push(x, when);
    }
  }
  const units = data.devices.map(([, kind, , , node], number) => [number, kind, node]).filter(([, kind]) => kind === "unit");
  const seen = new Int32Array(nets.length);
  let stamp = 0;

  // Walks over nets from one of them; `enter` says whether to go into a net, `pass` whether to go on beyond it.
  // `way`: through diodes with their current (1), against it (-1), or not at all (0).
  function spread(start, state, enter, pass, way = 0) {
    const stack = [start], mark = ++stamp;
    seen[start] = mark;
    while (stack.length) {
      const here = stack.pop();
      if (!pass(here)) continue;
      const list = around[here];
      for (let i = 0; i < list.length; i += 2) {
        const other = list[i];
        if (seen[other] !== mark && (list[i + 1] === null || holds(list[i + 1], state)) && enter(other)) {
          seen[other] = mark;
          stack.push(other);
        }
      }
      const diodes = way ? through[here] : [];
      for (let i = 0; i < diodes.length; i += 2) {
        if (diodes[i + 1] === way && seen[diodes[i]] !== mark && enter(diodes[i])) {
          seen[diodes[i]] = mark;
          stack.push(diodes[i]);
        }
      }
    }
  }

  // Poles are the first nets, one each.
  const isPole = (net) => net < poleCount;
  const isRail = Uint8Array.from({length: count}, (_, node) => Number(rails.has(node)));

  // What each net has in a state: {poles, units, at, named}; `poles(node)` numbers of poles or null, `units(node)`
  // numbers of the frog units that feed it where nothing else does.
  function look(state) {
    const poles = new Array(nets.length).fill(null), fed = new Array(nets.length).fill(null);
    for (let pole = 0; pole < poleCount; pole++) {
      for (const way of data.facing ? [1, -1] : [0]) {
        spread(netOf[pole], state, () => true, (net) => {
          if (poles[net] === null) poles[net] = [pole];
          else if (poles[net].at(-1) !== pole) poles[net].push(pole);
          return !isPole(net) || net === netOf[pole];
        }, way);
      }
    }
    for (const [number, , node] of units) {
      if (poles[netOf[node]] !== null) continue;
      spread(netOf[node], state, (net) => !isPole(net), (net) => {
        if (poles[net] === null) (fed[net] ??= []).push(number);
        return true;
      });
    }
    return {byNet: poles, fedByNet: fed, poles: (node) => poles[netOf[node]], units: (node) => fed[netOf[node]]};
  }

  // The nets that have something else in one look than in another, as their rails.
  function differing(one, other, visit) {
    for (let net = poleCount; net < nets.length; net++) {
      if (!same(one.byNet[net], other.byNet[net]) || !same(one.fedByNet[net], other.fedByNet[net])) {
        for (const node of nets[net]) if (isRail[node]) visit(node);
      }
    }
  }

  // The names of what a node has, sorted: of its poles, or of the frog units.
  function named(node, found) {
    const poles = found.poles(node);
    if (poles) return poles.map((p) => data.poles[p][0]).sort(byCode);
    return [...new Set((found.units(node) || []).map((n) => data.devices[n][0]))].sort(byCode);
  }

  // How many rails have more than one pole.
  function joinedRails(found) {
    let total = 0;
    for (let net = poleCount; net < nets.length; net++) {
      if (found.byNet[net]?.length > 1) for (const node of nets[net]) total += isRail[node];
    }
    return total;
  }

  // The shortest conducting path between two nodes, none through a pole, or an empty list.
  function path(start, goal, state) {
    // A place is a node and the way taken through diodes so far: none, with their current, or against it.
    const came = new Int32Array(3 * count).fill(-2), queue = [3 * start];
    came[3 * start] = -1;
    let last = -1;
    for (let at = 0; at < queue.length; at++) {
      const here = Math.floor(queue[at] / 3), way = queue[at] % 3;
      if (here === goal) {
        last = queue[at];
        break;
      }
      if (here < poleCount && here !== start) continue;
      const list = near[here];
      for (let i = 0; i < list.length; i += 2) {
        const by = list[i + 1], turn = by.oneWay ? (by.a === here ? 1 : 2) : 0;
        if (turn && way && turn !== way) continue;
        const next = 3 * list[i] + (turn || way);
        if (came[next] === -2 && holds(by.when, state)) {
          came[next] = queue[at];
          queue.push(next);
        }
      }
    }
    const steps = [];
    for (let place = last; place !== -1; place = came[place]) steps.push(Math.floor(place / 3));
    return steps.reverse();
  }

  // Whether a path, node by node, conducts in a state.
  function conducts(nodes, state) {
    for (let i = 1; i < nodes.length; i++) {
      const list = near[nodes[i - 1]];
      let joined = false;
      for (let k = 0; k < list.length && !joined; k += 2) {
        joined = list[k] === nodes[i] && holds(list[k + 1].when, state);
      }
      if (!joined) return false;
    }
    return true;
  }

  function ruledOut(state) {
    return data.never.find((cube) => cube.every(([v, x]) => state[v] === x)) || null;
  }

  // A state with some positions set, the others as they are, or moved where `never` rules that out.
  function withPositions(state, wanted) {
    const next = state.slice(), fixed = new Set(wanted.map(([v]) => v));
    for (const [v, x] of wanted) next[v] = x;
    for (let tries = 0; tries < 200; tries++) {
      const cube = ruledOut(next);
      if (!cube) break;
      const free = cube.filter(([v]) => !fixed.has(v));
      if (!free.length) break;
      const [v, x] = free[tries % free.length];
      next[v] = (x + 1) % data.variables[v][2].length;
    }
    return next;
  }

  // -- the meter

  // The continuity tester, supply unplugged: "beep", "resists" (only over a lamp, diode or resistor) or "silent".
  function beep(one, two, state) {
    for (const [overAll, said] of [[false, "beep"], [true, "resists"]]) {
      const met = new Uint8Array(count), stack = [one];
      met[one] = 1;
      while (stack.length) {
        const list = near[stack.pop()];
        for (let i = 0; i < list.length; i += 2) {
          const by = list[i + 1];
          if (!met[list[i]] && (overAll || !by.resists) && holds(by.when, state)) {
            met[list[i]] = 1;
            stack.push(list[i]);
          }
        }
      }
      if (met[two]) return said;
    }
    return "silent";
  }

  // How far one pole is above another, walking over supplies that share poles: {least, most, kinds}, or null.
  function between(from, to) {
    if (from === to) return {least: 0, most: 0, supplies: []};
    const supplies = Object.entries(data.supplies);
    const direct = supplies.find(([, s]) => s.poles.includes(from) && s.poles.includes(to));
    if (direct) {
      const [name, s] = direct;
      const sign = s.type === "dc" ? (s.plus === from ? 1 : -1) : 1;
      return {least: sign * s.volts, most: sign * s.volts, supplies: [[name, s]]};
    }
    const queue = [[from, 0, []]], seen = new Set([from]);
    while (queue.length) {
      const [here, most, used] = queue.shift();
      if (here === to) return {least: -most, most, supplies: used};
      for (const [name, s] of supplies) {
        const other = s.poles[0] === here ? s.poles[1] : s.poles[1] === here ? s.poles[0] : "";
        if (other && !seen.has(other)) {
          seen.add(other);
          queue.push([other, most + s.volts, [...used, [name, s]]]);
        }
      }
    }
    return null;
  }

  // What the meter reads between two nodes with the supplies on, controllers forward: {what, volts, text}.
  function volts(one, two, found) {
    const mine = found.poles(one), other = found.poles(two);
    const device = deviceAt(one, found) || deviceAt(two, found);
    if (mine?.length > 1 || other?.length > 1) {
      return {what: "short", volts: null, text: "poles are joined here: the supply trips, or ought to, and nothing is left to read"};
    }
    if (one === two) return {what: "same", volts: 0, text: "0 V, both probes on one rail"};
    if (device && !sameDevice(one, two, found)) {
      return {what: "device", volts: null, text: `as ${device} stands: it chooses its pole when a train asks for it`};
    }
    if (!mine || !other) {
      if (found.units(one) && found.units(two)) return {what: "same", volts: 0, text: "0 V, one and the same pole"};
      const dead = [one, two].filter((n) => !found.poles(n)).map((n) => data.names[n]);
      return {what: "dead", volts: null, text: `no pole at ${dead.join(" and ")}: a meter shows nothing to trust`};
    }
    const [a, b] = [mine[0], other[0]].map((p) => data.poles[p]);
    if (a[0] === b[0]) return {what: "same", volts: 0, text: `0 V, both on ${a[0]}`};
    if (a[2]) {  // the two outputs of one reverser
      const supply = data.supplies[a[3][0]];
      return supply.type === "dc"
        ? {what: "device", volts: supply.volts, text: `${supply.volts} V, plus where ${a[2]} puts it`}
        : {what: "ac", volts: supply.volts, text: acText(supply)};
    }
    const gap = between(a[0], b[0]);
    if (!gap) return {what: "apart", volts: null, text: `${a[0]} and ${b[0]} share no pole: a meter shows nothing to trust`};
    if (gap.supplies.length === 1) {
      const supply = gap.supplies[0][1];
      if (supply.type !== "dc") return {what: "ac", volts: supply.volts, text: acText(supply)};
      const plus = gap.most > 0 ? data.names[one] : data.names[two];
      const signed = `${gap.most > 0 ? "+" : "\u2212"}${supply.volts} V`;
      return {what: "dc", volts: gap.most, text: `${signed}, direct: ${plus} is plus with the controller set forward`};
    }
    const names = gap.supplies.map(([name]) => name).join(" and ");
    return {what: "two", volts: null, text: `between two supplies (${names}): up to ${gap.most} V, as their controllers stand`};
  }

  function acText(supply) {
    return supply.type === "dcc"
      ? `${supply.volts} V, alternating (DCC): neither is plus; a plain meter may read less`
      : `${supply.volts} V, alternating: neither is plus`;
  }

  function deviceAt(node, found) {
    if (found.units(node)) return data.devices[found.units(node)[0]][0];
    const poles = found.poles(node);
    return poles && poles.length === 1 ? data.poles[poles[0]][2] : "";
  }

  function sameDevice(one, two, found) {
    const [a, b] = [deviceAt(one, found), deviceAt(two, found)];
    return a === b;
  }

  return {data, deviceOfPole, holds, look, differing, named, joinedRails, path, conducts, ruledOut, withPositions, beep, volts};
}

function same(one, other) {
  if (one === other) return true;
  if (one === null || other === null || one.length !== other.length) return false;
  for (let i = 0; i < one.length; i++) if (one[i] !== other[i]) return false;
  return true;
}

function byCode(a, b) {
  return a < b ? -1 : a > b ? 1 : 0;
}

// -- the track: where a train runs as the turnouts stand

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
