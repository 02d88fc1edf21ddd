// What is laid over and under the plan: lit rails, rings, probes; each by who laid it.
function makeMarks(page) {
  const {data, plan} = page, laid = new Map();

  function clear(who) {
    for (const one of laid.get(who) ?? []) one.remove();
    laid.set(who, []);
  }

  function put(who, one, where = plan.above) {
    where.append(one);
    if (!laid.has(who)) laid.set(who, []);
    laid.get(who).push(one);
  }

  function glow(who, node, kind) {
    const d = plan.stretchesOf(node).map(({x, y, rest}) => `M${x} ${y}${rest}`).join("");
    if (d) put(who, drawn("path", {d, class: `glow ${kind}`, "data-glow": data.names[node]}), plan.below);
  }

  function ring(who, {x, y, width, height}) {
    put(who, drawn("rect", {class: "here", x: x - 14, y: y - 14, width: width + 28, height: height + 28, rx: 10}));
  }

  return {clear, put, glow, ring};
}
