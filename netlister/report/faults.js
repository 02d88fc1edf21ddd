// The numbers of findings on the plan, as large on the screen whatever its size. Those that would lie on one another
// are one mark: its first number, and how many more.
function makeFaults({plan, drawing}, listed, open) {
  const WIDE = 48, HIGH = 24;          // room for one mark, in pixels
  const RANKS = ["note", "warning", "error"];
  const SHAPES = {
    error: (w) => `M${-w} -9H${w}V9H${-w}z`,
    warning: (w) => `M${-w - 4} 9L${4 - w} -10H${w - 4}L${w + 4} 9z`,
    note: (w) => `M${1 - w} -9H${w - 1}A9 9 0 0 1 ${w - 1} 9H${1 - w}A9 9 0 0 1 ${1 - w} -9z`,
  };
  const top = drawing.viewBox.baseVal.y;
  let standing = [], last = 0, opened = -1;

  function size(scale) {
    if (scale === last) return;
    last = scale;
    for (const mark of standing) mark.remove();
    const groups = [];
    for (const one of listed) {
      const {x} = one, y = one.y + ((one.y - top) * scale < 28 ? 18 : -16) / scale;
      const group = groups.find((other) => Math.abs(x - other.x) * scale < WIDE && Math.abs(y - other.y) * scale < HIGH);
      if (group) group.of.push(one);
      else groups.push({x, y, of: [one]});
    }
    standing = groups.map((group) => mark(group, scale));
    plan.above.append(...standing);
  }

  function mark({x, y, of}, scale) {
    const severity = RANKS[Math.max(...of.map((one) => RANKS.indexOf(one.severity)))];
    const numbers = of.map(({number}) => number), said = `${numbers[0] + 1}${numbers.length > 1 ? ` +${numbers.length - 1}` : ""}`;
    const wide = Math.max(9, said.length * 3.4 + 4);
    const made = drawn("g", {class: `fault ${severity}`, transform: `translate(${x} ${y}) scale(${1 / scale})`},
      drawn("path", {d: SHAPES[severity](wide)}), drawn("text", {y: 4.5, "text-anchor": "middle"}, said),
      drawn("title", {}, `Finding${numbers.length > 1 ? "s" : ""} ${numbers.map((n) => n + 1).join(", ")}`));
    made.addEventListener("click", (event) => {
      event.stopPropagation();
      opened = numbers[(numbers.indexOf(opened) + 1) % numbers.length];
      open(opened);
    });
    return made;
  }

  return {size};
}
