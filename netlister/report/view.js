// The view of the plan: what part of it is seen, moved by wheel, pinch, drag and keys, with an overview in the corner.

function makeView(sheet, plan, track, changed) {
  const whole = {...boxed(plan.viewBox.baseVal)};
  let box = {...whole};
  const pointers = new Map();
  let dragged = false, before = null;
  const MOST = 6;                      // pixels for one unit of the drawing, at the most
  const NAMED = 0.25;                  // from so many on the names of pieces can be read
  const NEAR = 0.45;                   // from so many pixels on letters and marks can be read

  function boxed({x, y, width, height}) {
    return {x, y, width, height};
  }

  function scale() {
    return Math.min(sheet.clientWidth / box.width, sheet.clientHeight / box.height) || 1;
  }

  function least() {
    return Math.min(sheet.clientWidth / whole.width, sheet.clientHeight / whole.height) || 1;
  }

  // Shows a part of the plan, in the shape of the sheet and never wholly beside the plan.
  function show({x, y, width, height}) {
    const wide = Math.max(sheet.clientWidth, 1), high = Math.max(sheet.clientHeight, 1);
    const by = Math.min(MOST, Math.max(least(), Math.min(wide / width, high / height)));
    const w = wide / by, h = high / by;
    const middle = [x + width / 2, y + height / 2];
    const hold = (m, from, size, seen) => seen >= size ? from + size / 2 : Math.min(from + size - seen / 2, Math.max(from + seen / 2, m));
    const cx = hold(middle[0], whole.x, whole.width, w), cy = hold(middle[1], whole.y, whole.height, h);
    box = {x: cx - w / 2, y: cy - h / 2, width: w, height: h};
    plan.setAttribute("viewBox", `${box.x} ${box.y} ${box.width} ${box.height}`);
    plan.classList.toggle("far", by < NEAR);
    plan.classList.toggle("remote", by < NAMED);
    corner();
    changed(by, box);
  }

  function place(x, y) {
    const edge = sheet.getBoundingClientRect();
    return [box.x + (x - edge.left) / edge.width * box.width, box.y + (y - edge.top) / edge.height * box.height];
  }

  // Larger or smaller about a point of the screen, else about the middle.
  function zoom(by, x, y) {
    const edge = sheet.getBoundingClientRect();
    const [px, py] = place(x ?? edge.left + edge.width / 2, y ?? edge.top + edge.height / 2);
    const factor = Math.min(MOST, Math.max(least(), scale() * by)) / scale();
    show({x: px - (px - box.x) / factor, y: py - (py - box.y) / factor, width: box.width / factor, height: box.height / factor});
  }

  function pan(dx, dy) {
    show({...box, x: box.x + dx, y: box.y + dy});
  }

  function fit() {
    show(whole);
  }

  // So that a place is seen with what is around it; not moved where it is seen well already.
  function reveal({x, y, width, height}, always) {
    const inside = x >= box.x && y >= box.y && x + width <= box.x + box.width && y + height <= box.y + box.height;
    if (inside && !always && scale() >= NEAR) return;
    const room = 160, wanted = Math.max(width + 2 * room, sheet.clientWidth / Math.max(scale(), 0.9));
    const tall = Math.max(height + 2 * room, wanted * sheet.clientHeight / sheet.clientWidth);
    show({x: x + width / 2 - wanted / 2, y: y + height / 2 - tall / 2, width: wanted, height: tall});
  }

  sheet.addEventListener("wheel", (event) => {
    event.preventDefault();
    const lines = event.deltaMode === 1 ? 16 : 1;
    zoom(Math.exp(-Math.max(-240, Math.min(240, event.deltaY * lines)) * 0.0022), event.clientX, event.clientY);
  }, {passive: false});

  sheet.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    pointers.set(event.pointerId, [event.clientX, event.clientY]);
    if (pointers.size === 1) dragged = false;
    before = spread();
  });
  sheet.addEventListener("pointermove", (event) => {
    const last = pointers.get(event.pointerId);
    if (!last) return;
    const next = [event.clientX, event.clientY];
    if (pointers.size === 1) {
      if (!dragged && Math.hypot(next[0] - last[0], next[1] - last[1]) < 5) return;
      if (!dragged) sheet.setPointerCapture(event.pointerId);
      dragged = true;
      pan((last[0] - next[0]) / scale(), (last[1] - next[1]) / scale());
    }
    pointers.set(event.pointerId, next);
    if (pointers.size === 2) {
      dragged = true;
      const now = spread();
      if (before && now.far > 0 && before.far > 0) {
        pan((before.x - now.x) / scale(), (before.y - now.y) / scale());
        zoom(now.far / before.far, now.x, now.y);
      }
      before = now;
    }
  });
  for (const what of ["pointerup", "pointercancel"]) {
    sheet.addEventListener(what, (event) => { pointers.delete(event.pointerId); before = spread(); });
  }
  // What ends a drag is no tap.
  sheet.addEventListener("click", (event) => {
    if (dragged) event.stopPropagation();
    dragged = false;
  }, true);

  function spread() {
    const [a, b] = [...pointers.values()];
    return a && b ? {x: (a[0] + b[0]) / 2, y: (a[1] + b[1]) / 2, far: Math.hypot(a[0] - b[0], a[1] - b[1])} : null;
  }

  const KEYS = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]};
  sheet.addEventListener("keydown", (event) => {
    if (event.target !== sheet || event.ctrlKey || event.metaKey || event.altKey) return;
    const step = KEYS[event.key];
    if (step) pan(step[0] * box.width / 8, step[1] * box.height / 8);
    else if (event.key === "+" || event.key === "=") zoom(1.4);
    else if (event.key === "-") zoom(1 / 1.4);
    else if (event.key === "0" || event.key === "Home") fit();
    else return;
    event.preventDefault();
  });

  // The overview: all track as one line, and what is seen of it.
  const map = drawn("svg", {class: "overview", viewBox: `${whole.x} ${whole.y} ${whole.width} ${whole.height}`, "aria-hidden": "true"});
  const seen = drawn("rect", {class: "seen"});
  map.append(drawn("path", {d: track}), seen);
  sheet.append(map);
  let holding = false;
  function jump(event) {
    const edge = map.getBoundingClientRect();
    const by = Math.min(edge.width / whole.width, edge.height / whole.height);
    const x = whole.x + whole.width / 2 + (event.clientX - edge.left - edge.width / 2) / by;
    const y = whole.y + whole.height / 2 + (event.clientY - edge.top - edge.height / 2) / by;
    show({...box, x: x - box.width / 2, y: y - box.height / 2});
  }
  map.addEventListener("pointerdown", (event) => {
    event.stopPropagation();
    holding = true;
    map.setPointerCapture(event.pointerId);
    jump(event);
  });
  map.addEventListener("pointermove", (event) => { if (holding) jump(event); });
  map.addEventListener("pointerup", () => { holding = false; });
  function corner() {
    map.classList.toggle("hid", scale() < least() * 1.3);
    for (const key of ["x", "y", "width", "height"]) seen.setAttribute(key, box[key]);
  }

  sheet.addEventListener("show-box", (event) => show(event.detail));
  plan.removeAttribute("width");
  plan.removeAttribute("height");
  let kept = null;
  window.addEventListener("beforeprint", () => {
    kept = {...box};
    plan.setAttribute("viewBox", `${whole.x} ${whole.y} ${whole.width} ${whole.height}`);
    plan.classList.remove("far");
  });
  window.addEventListener("afterprint", () => { if (kept) show(kept); });
  let size = "";
  new ResizeObserver(() => {
    const now = `${sheet.clientWidth} ${sheet.clientHeight}`;
    if (now === size || !sheet.clientWidth) return;
    const all = !size || scale() <= least() * 1.05 || box.width >= whole.width;
    size = now;
    show(all ? whole : box);
  }).observe(sheet);
  return {show, fit, zoom, reveal, scale, place, whole, get box() { return box; }};
}
