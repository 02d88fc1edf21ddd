"use strict";
// The circuit in the page: poles by walking from each pole, paths, what a meter reads.
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
