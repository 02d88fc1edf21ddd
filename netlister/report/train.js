// The train: pushed along its way by hand; where it would short or stop, and its way as a straight ribbon.
function makeTrain(page) {
  const {data, circuit, track, marks, at} = page;
  const trains = data.trains.length ? data.trains : [
    {name: "four axles", axles: [0, 30, 120, 150], left: [1, 2, 3, 4], right: [1, 2, 3, 4], bridging: []}];
  const pickTrain = at("train"), pickTrip = at("trip"), pickPiece = at("train-piece"), pickEnd = at("train-end");
  const push = at("push");
  let way = null;
  let laid = {};                       // the way that stands on the page, and what it depends on
  let wanted = null;                   // where it is to stand on the next way that is laid

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
    page.set(circuit.withPositions(page.state, trip.set), `The route ${trip.name} is set`);
  });
  pickPiece.addEventListener("change", () => { ends(); begin(); });
  pickEnd.addEventListener("change", begin);
  pickTrain.addEventListener("change", () => { lay(); page.remember(); });
  push.addEventListener("input", () => { roll(); page.remember(); });

  function begin() {
    push.value = 0;
    pickTrip.value = "";
    lay();
    page.remember();
  }

  const train = () => trains[Number(pickTrain.value) || 0];

  function lay() {
    if (!pickPiece.value) return;
    way = track.run(pickPiece.value, pickEnd.value, page.state);
    const length = train().axles.at(-1);
    push.max = Math.max(0, Math.floor(way.length));
    push.min = Math.min(Number(push.max), Math.ceil(length));
    push.step = 1;
    if (wanted !== null) push.value = wanted;
    wanted = null;
    const names = way.pieces.map((p) => p.piece);
    const key = JSON.stringify([pickTrain.value, way.pieces, [...way.left, ...way.right].map(([, , n]) => n < 0 ? "" : page.textOf(n))]);
    if (key === laid.key) way = laid.way;
    else tellWay(names, length);
    laid = {key, way};
    roll();
  }

  function tellWay(names, length) {
    at("way").textContent = `${names.length > 12 ? [...names.slice(0, 12), `${names.length - 12} more`].join(" – ") : names.join(" – ")}${
      names.length ? `, ${Math.round(way.length)} mm; ` : ""}${way.why}.`;
    at("way").dataset.pieces = JSON.stringify(names);
    way.troubles = names.length ? troubles(circuit, way, train(), page.found) : [];
    const box = at("troubles"), list = way.troubles;
    box.replaceChildren();
    if (list.length) {
      const items = list.slice(0, 30).map((t) => element("li", {class: t.what},
        pressed(`${t.what === "short" ? "Shorts" : "Stops"} at ${Math.round(t.from)} to ${Math.round(t.to)} mm`,
          () => { push.value = (t.from + t.to) / 2; roll(); page.remember(); }), ` ${t.text}`));
      box.append(element("ul", {class: "troubles"}, ...items));
      if (list.length > 30) box.append(element("p", {}, `and ${list.length - 30} more places`));
    } else if (way.length > length) {
      box.append(element("p", {}, "It runs all the way as the turnouts stand."));
    } else if (names.length) {
      box.append(element("p", {}, "The way is shorter than the train, or its length is not known."));
    }
  }

  function roll() {
    marks.clear("train");
    if (!way || !way.pieces.length) {
      at("ribbon").replaceChildren();
      at("train-says").textContent = "";
      return;
    }
    const place = Number(push.value), here = stand(circuit, way, train(), place, page.found);
    const under = [...new Set(here.wheels.map((w) => w.node).filter((n) => n >= 0))];
    for (const node of under) marks.glow("train", node, "under");
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
    const length = train().axles.at(-1), span = Math.max(500, length * 2.5), edge = 14;
    const start = Math.max(0, Math.min(way.length - span, place - length / 2 - span / 2)), stop = Math.min(way.length, start + span);
    const scale = (wide - 2 * edge) / span, x = (mm) => (edge + (mm - start) * scale).toFixed(2);
    const svg = drawn("svg", {viewBox: `0 0 ${wide} 132`, role: "img", "aria-label": at("train-says").textContent});
    const inside = ([a, b]) => b > start && a < stop;
    for (const p of way.pieces) {
      if (!inside([p.at, p.at + p.length])) continue;
      svg.append(drawn("path", {class: "end", d: `M${x(p.at)} 6V112`}),
        drawn("text", {class: "label", x: Number(x(Math.max(start, p.at))) + 4, y: 16}, p.piece));
    }
    [way.left, way.right].forEach((side, number) => {
      const y = number ? 84 : 44;
      for (const [a, b, node] of side.filter(inside)) {
        const kind = node >= 0 ? `rail ${page.classOf(node)}` : "dead";
        svg.append(drawn("path", {class: kind, d: `M${x(Math.max(a, start))} ${y}H${x(Math.min(b, stop))}`}));
      }
      for (const [gap] of way.gaps[number]) {
        if (inside([gap, gap])) svg.append(drawn("path", {class: "gap", d: `M${x(gap)} ${y - 9}v18`}));
      }
    });
    for (const t of way.troubles) {
      if (!inside([t.from, t.to])) continue;
      svg.append(drawn("path", {class: `trouble ${t.what}`, d: `M${x(t.from)} 118H${Math.max(Number(x(t.to)), Number(x(t.from)) + 2)}`}));
    }
    svg.append(drawn("rect", {class: `body ${here.what}`, x: x(place - length) - 6, y: 52, width: length * scale + 12, height: 24, rx: 6}),
      drawn("path", {class: "front", d: `M${Number(x(place)) + 1} 58l8 6-8 6z`}),
      ...here.wheels.map((wheel) => drawn("circle", {class: "wheel", cx: x(wheel.at), cy: wheel.side ? 84 : 44, r: 5})));
    at("ribbon").replaceChildren(svg);
  }

  // -- in the address

  function tell(parts) {
    if (!pickPiece.value) return;
    if (Number(pickTrain.value)) parts.set("train", train().name);
    if (pickTrip.value !== "") parts.set("route", data.trips[Number(pickTrip.value)].name);
    parts.set("from", `${pickPiece.value}.${pickEnd.value}`);
    parts.set("at", push.value);
  }

  function recall(parts) {
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
    wanted = parts.get("at") ?? 0;
  }

  return {lay, tell, recall};
}
