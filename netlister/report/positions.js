// What is thrown: a lever for each turnout, machine, switch and plug; positions taken back and made again.
function makePositions(page) {
  const {data, at} = page;
  const controls = [];
  const past = [], ahead = [];         // positions before, and those that were taken back
  let stepping = false;

  const box = at("positions");
  data.variables.forEach(([name, kind, positions], variable) => {
    if (!box) return;
    if (positions.length > 3) {
      const select = element("select", {"aria-label": `${kind} ${name}`});
      positions.forEach((position, x) => select.append(element("option", {value: x}, position)));
      select.addEventListener("change", () => move(variable, Number(select.value)));
      controls.push({box: element("label", {class: "lever"}, element("span", {class: "who"}, name), select),
        show: () => { select.value = page.state[variable]; }});
    } else {
      const where = element("span", {class: "where"});
      const button = pressed("", () => move(variable, (page.state[variable] + 1) % positions.length), {class: "lever", "data-variable": name});
      button.append(element("span", {class: "who"}, name), " ", where);
      controls.push({box: button, show: () => {
        where.textContent = positions[page.state[variable]];
        button.classList.toggle("moved", page.state[variable] !== data.state[variable]);
      }});
    }
    box.append(controls.at(-1).box);
  });
  for (const control of controls) control.show();

  function move(variable, value) {
    const [name, , positions] = data.variables[variable], next = page.state.slice();
    next[variable] = value;
    page.set(next, `${name} at ${positions[value]}`);
  }

  const find = at("find-position");
  find?.addEventListener("input", () => {
    const wanted = find.value.trim().toLowerCase();
    data.variables.forEach(([name], v) => { controls[v].box.hidden = !name.toLowerCase().includes(wanted); });
  });
  at("rest")?.addEventListener("click", () => page.set(data.state.slice(), "Everything as the page opened"));

  // -- taken back and made again

  function step(from, to, said) {
    if (!from.length) return;
    to.push(page.state);
    stepping = true;
    page.set(from.pop(), said);
    stepping = false;
  }
  const undo = () => step(past, ahead, "Undone"), redo = () => step(ahead, past, "Done again");
  at("undo")?.addEventListener("click", undo);
  at("redo")?.addEventListener("click", redo);
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.target.matches("input, select, textarea")) return;
    const key = event.key.toLowerCase();
    if (key === "z" && !event.shiftKey) undo();
    else if (key === "y" || key === "z") redo();
    else return;
    event.preventDefault();
  });

  // Other positions are set; `before`: those that were.
  function changed(before, variables) {
    if (page.ready && !stepping && variables.length) {
      past.push(before);
      if (past.length > 200) past.shift();
      ahead.length = 0;
    }
    for (const v of variables) controls[v]?.show();
    at("undo")?.setAttribute("aria-disabled", String(!past.length));
    at("redo")?.setAttribute("aria-disabled", String(!ahead.length));
  }

  // -- in the address

  function tell(parts) {
    page.state.forEach((value, v) => {
      const [name, , positions] = data.variables[v];
      if (value !== data.state[v]) parts.append("set", `${name}=${positions[value]}`);
    });
  }

  function told(parts) {
    const next = data.state.slice();
    for (const one of parts.getAll("set")) {
      const v = data.variables.findIndex(([name]) => one.startsWith(`${name}=`));
      const x = v < 0 ? -1 : data.variables[v][2].indexOf(one.slice(data.variables[v][0].length + 1));
      if (x >= 0) next[v] = x;
    }
    return next;
  }

  return {changed, tell, told};
}
