"use strict";
// The wiring changed on the page: what can be changed is offered, tried by the server as it is chosen, and written
// when that is said. Everything is put on the page as text, never as HTML.
(() => {
  let desk = JSON.parse(document.getElementById("offers").textContent);
  const stage = document.querySelector(".stage");
  if (!stage) return;

  // -- the row of buttons above the plan

  const row = element("div", {class: "changes", role: "group", "aria-label": "Changes of the file"});
  stage.prepend(row);
  if (desk.refused) {
    row.append(element("p", {}, desk.refused));
    return;
  }
  const back = pressed("Take back", () => step("undo"), {id: "change-undo"});
  const again = pressed("Make again", () => step("redo"), {id: "change-redo"});
  const mendAll = pressed("Mend all…", () => open("Mend all", fixed({do: "mend-all"})), {id: "mend-all"});
  row.append(
    pressed("Change the wiring…", () => openPiece(""), {id: "change-open"}), back, again, mendAll,
    pressed("Propose what is missing…", () => open("A wiring for what is missing",
      [{label: "What it is to do", fields: [{key: "aim", label: "What it is to do", choices: Object.entries(desk.aims)}],
        ask: (values) => ({do: "propose", ...values})}], true), {id: "propose"}));
  const said = document.querySelector(".news.done");
  if (said) row.append(said);
  function refresh() {
    back.disabled = live.over || !desk.undo;
    again.disabled = live.over || !desk.redo;
    mendAll.hidden = !Object.keys(desk.causes).length;
    const shut = live.over || document.querySelector(".banner");
    for (const one of document.querySelectorAll(".changes button, button.mends")) if (shut) one.disabled = true;
  }
  refresh();

  // each cause offers its repairs
  [...document.querySelectorAll(".causes > li.cause")].forEach((item, n) => {
    const ways = desk.causes[n + 1] ?? [];
    if (!ways.length) return;
    item.append(element("p", {class: "row"}, ...ways.map((say, repair) => {
      const text = `Mend it${ways.length > 1 ? `, way ${repair + 1}` : ""}…`;
      return pressed(text, () => open("Mend it", fixed({do: "mend", cause: n + 1, repair})), {class: "mends", "aria-label": `${text} ${say}`});
    })));
  });

  // a tap on the plan
  const taps = stage.querySelector("fieldset.taps");
  const radio = element("input", {type: "radio", name: "tap", value: "change"});
  taps.append(element("label", {}, radio, " changes what is there"));
  const plan = document.querySelector("#sheet svg.plan");
  plan.addEventListener("change-piece", (event) => openPiece(event.detail));

  refresh();

  // -- the server

  async function post(body) {
    let answer;
    try {
      answer = await fetch("/desk", {method: "POST", cache: "no-store", body: JSON.stringify({version: desk.version, ...body}),
        headers: {"Content-Type": "application/json", "X-Page-Key": live.key}});
    } catch {
      return {refused: "The server does not answer: netlister watch may have ended. Nothing was written."};
    }
    if (!answer.ok) return {refused: `Nothing was written: ${(await answer.text()).trim()}`};
    return answer.json();
  }

  const count = ([errors, warnings, notes]) => {
    const parts = [[errors, "error"], [warnings, "warning"], [notes, "note"]].filter(([n]) => n);
    return parts.map(([n, word]) => `${n} ${word}${n > 1 ? "s" : ""}`).join(", ") || "no findings";
  };

  async function step(what) {
    const answer = await post({what});
    if (answer.refused) return live.say(answer.refused, "over");
    written(answer, `${what === "undo" ? "Taken back" : "Made again"}.`);
    (desk.undo ? back : again).focus();
  }

  function written(answer, text) {
    const {before, after, unproved} = answer.verdict;
    const proof = unproved.length ? " Not everything was proved." : "";
    const said = `${text} Before: ${count(before)}. Now: ${count(after)}.${proof}`;
    desk = answer.desk;
    refresh();
    live.remember(said);
    live.say(`${said} The page is being made again.`, "done");
  }

  // -- the dialog

  const title = element("h2", {id: "change-head"}), pieceField = element("label", {for: "change-piece"}, element("span", {}, "Piece of track, or what has a name"));
  const piece = element("input", {id: "change-piece", list: "change-names", autocomplete: "off", spellcheck: "false"});
  const names = element("datalist", {id: "change-names"});
  pieceField.append(piece, names);
  const whatField = element("label", {for: "change-what"}, element("span", {}, "What to change"));
  const what = element("select", {id: "change-what"});
  whatField.append(what);
  const fields = element("div", {class: "pair"});
  const verdict = element("div", {class: "outcome", role: "status"});
  const diff = element("pre", {class: "diff", tabindex: "0", "aria-label": "The difference of the file"});
  const file = element("details", {open: ""}, element("summary", {}, "What changes in the file"), diff);
  const write = element("button", {type: "submit", id: "change-write"}, "Write it into the file");
  const form = element("form", {method: "dialog"}, title, pieceField, whatField, fields, verdict, file,
    element("p", {class: "hint"}, "Before you change the railway: supply off and unplugged. A drawing is no test, so measure afterwards."),
    element("div", {class: "foot row"}, write, pressed("Close", () => dialog.close(), {id: "change-close"})));
  const dialog = element("dialog", {class: "change", "aria-labelledby": "change-head"}, form);
  document.body.append(dialog);

  let actions = [], asked = null, turn = 0, timer = 0, opener = null, slow = false;

  const fixed = (ask) => [{label: "", fields: [], ask: () => ask}];

  function open(head, listed, waits = false) {
    opener = document.activeElement;
    title.textContent = head;
    pieceField.hidden = whatField.hidden = true;
    slow = waits;
    offer(listed);
    dialog.showModal();
  }

  function openPiece(name) {
    opener = document.activeElement;
    title.textContent = "Change the wiring";
    pieceField.hidden = whatField.hidden = false;
    slow = false;
    names.replaceChildren(...[...Object.keys(desk.pieces), ...desk.names].map((one) => element("option", {value: one})));
    piece.value = name;
    dialog.showModal();
    choosePiece();
    (name ? what : piece).focus();
  }

  function choosePiece() {
    const name = piece.value.trim();
    chosen = name;
    const listed = desk.pieces[name] ? actionsOf(name) : desk.names.includes(name) ? [naming(name)] : [];
    whatField.hidden = !listed.length;
    if (listed.length) return offer(listed);
    actions = [];
    fields.replaceChildren();
    clear(name ? `Nothing is named ${name}.` : "Choose a piece by its name; or close this, choose “changes what is there” above the plan, and tap it.");
  }
  let chosen = "";                     // so that leaving the field does not begin anew
  for (const event of ["change", "input"]) {
    piece.addEventListener(event, () => {
      const name = piece.value.trim(), known = desk.pieces[name] || desk.names.includes(name);
      if (name !== chosen && (known || event === "change")) choosePiece();
    });
  }

  function offer(listed) {
    actions = listed;
    const groups = new Map();
    listed.forEach(({label, group = ""}, n) => {
      if (!groups.has(group)) groups.set(group, group ? element("optgroup", {label: group}) : what);
      groups.get(group).append(element("option", {value: n}, label));
    });
    what.replaceChildren(...[...groups.values()].filter((one) => one !== what));
    if (groups.has("")) listed.forEach(({label}, n) => what.append(element("option", {value: n}, label)));
    what.value = 0;
    chooseAction();
  }
  what.addEventListener("change", () => chooseAction());

  function fieldsOf(action, filled) {
    return typeof action.fields === "function" ? action.fields(filled) : action.fields;
  }

  // The fields of what is chosen; `kept`: what is filled in already, where one of them decides what others there are.
  function chooseAction(kept = {}) {
    const action = actions[Number(what.value)];
    fields.replaceChildren(...fieldsOf(action, kept).map(({key, label, choices, value: first = "", list, hint = "", decides}) => {
      const id = `change-${key}`, value = kept[key] ?? first;
      let field;
      if (choices) {
        field = element("select", {id, name: key}, ...choices.map(([word, says]) => element("option", {value: word}, says)));
        field.value = value || choices[0][0];
        if (field.selectedIndex < 0) field.selectedIndex = 0;
      } else {
        field = element("input", {id, name: key, autocomplete: "off", spellcheck: "false"});
        field.value = value;
        if (list) field.setAttribute("list", `${id}-list`);
      }
      field.addEventListener("input", decides ? () => { chooseAction(values()); document.getElementById(id).focus(); } : later);
      const made = element("label", {for: id}, element("span", {}, label), field);
      if (hint) made.append(element("small", {class: "hint"}, hint));
      if (list) made.append(element("datalist", {id: `${id}-list`}, ...list.map((one) => element("option", {value: one}))));
      return made;
    }));
    if (slow) clear("Press the button to look for it; that may take some seconds.", "Look for it");
    else trial();
  }

  function values() {
    return Object.fromEntries([...fields.querySelectorAll("input, select")].map((one) => [one.name, one.value.trim()]));
  }

  function clear(text, press = "Write it into the file") {
    turn += 1;
    asked = null;
    verdict.className = "outcome";
    verdict.replaceChildren(element("p", {}, text));
    file.hidden = true;
    write.textContent = press;
    write.disabled = press === "Write it into the file";
  }

  function later() {
    clearTimeout(timer);
    if (slow) return clear("Press the button to look for it; that may take some seconds.", "Look for it");
    clear("…");                        // what was shown is of other words
    timer = setTimeout(trial, 200);
  }

  async function trial() {
    clearTimeout(timer);
    const action = actions[Number(what.value)];
    if (!action) return;
    const filled = values();
    const missing = fieldsOf(action, filled).find(({key, needed}) => needed && !filled[key]);
    if (missing) return clear(`Still to be filled in: ${missing.label}.`);
    clear(slow ? "Looking for it…" : "…");
    const mine = turn, ask = action.ask(filled);
    const answer = await post({what: "try", ask});
    if (mine !== turn) return;
    if (answer.refused) return refuse(answer);
    show(answer);
    asked = ask;
    write.disabled = Boolean(answer.trouble) || !answer.difference;
  }

  function refuse(answer) {
    clear(`${answer.refused[0].toUpperCase()}${answer.refused.slice(1)}${/[.!?]$/.test(answer.refused) ? "" : "."}`);
    if (!answer.same) verdict.classList.add("worse");
    if (answer.stale) verdict.append(pressed("Load the page again", () => { live.remember(answer.refused); dialog.close(); location.reload(); }));
  }

  function show({say, difference, verdict: {before, after, gone, new: came, moved, unproved}, trouble}) {
    const worse = came.rows.length + moved.rows.length, parts = [element("p", {}, `${say[0].toUpperCase()}${say.slice(1)}.`)];
    if (trouble) parts.push(element("p", {}, trouble));
    const proof = unproved.length ? `NOT everything was proved: ${unproved.slice(0, 5).join(", ")}.` : "";
    parts.push(element("p", {}, `Now: ${count(before)}. After this change: ${count(after)}${desk.some ? ", of the rules that watch was started with" : ""}${unproved.length ? "" : ", checked over every position"}. ${proof}`));
    const tell = (head, {rows, more}) => {
      if (!rows.length) return;
      parts.push(element("h3", {}, head), element("ul", {}, ...rows.map(({severity, rule, message, when, path}) =>
        element("li", {}, element("b", {}, severity), ` ${rule}: ${message}; ${when}${path ? `; along ${path}` : ""}`))));
      if (more) parts.push(element("p", {}, `and ${more} more`));
    };
    tell("This comes", came);
    tell("This stays, in other positions or graver or milder", moved);
    tell("This goes", gone);
    if (!worse && !gone.rows.length) parts.push(element("p", {}, "No finding comes or goes."));
    verdict.replaceChildren(...parts);
    verdict.className = `outcome ${worse || unproved.length ? "worse" : "better"}`;
    const lines = difference.split("\n").filter((line, n) => n > 1);
    diff.replaceChildren(...lines.flatMap((line) => {
      const mark = {"+": "ins", "-": "del"}[line[0]];
      return mark ? [element(mark, {}, line)] : [`${line}\n`];
    }));
    file.hidden = !difference;
    write.textContent = "Write it into the file";
  }

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (!asked) return write.textContent === "Look for it" ? (slow = false, await trial(), slow = true) : trial();
    write.disabled = true;
    const ask = asked, answer = await post({what: "make", ask});
    if (answer.refused) return refuse(answer);
    written(answer, `Written: ${answer.say}.`);
    dialog.close();
  });
  dialog.addEventListener("close", () => { turn += 1; if (opener?.isConnected) opener.focus(); });
  live.onEnd((text) => { refresh(); clear(text); });

  // -- what can be done to a piece

  function naming(name) {
    const contact = desk.contacts.some((one) => one.name === name);  // its name is behind that of its owner
    return {group: "Name", label: `Name ${name} otherwise, everywhere`,
      fields: [{key: "new", label: "New name", value: contact ? name.split(".").at(-1) : name, needed: true}],
      ask: ({new: new_}) => ({do: "rename", old: name, new: new_})};
  }

  function terminals() {
    return [...desk.sources.flatMap((name) => [`${name}.A`, `${name}.B`]),
      ...Object.entries(desk.pieces).flatMap(([name, {rails}]) => rails.map((rail) => `${name}.${rail}`))];
  }

  function actionsOf(name) {
    const one = desk.pieces[name], mine = (terminal) => terminal.split(".")[0] === name, found = [];
    const add = (group, label, fields, ask) => found.push({group, label, fields, ask});
    desk.joints.forEach(({name: joint, from, to, insulate}, n) => {
      if (!mine(from) && !mine(to)) return;
      if (insulate !== "gap") {
        add("Joints", `Insulate the joint ${joint}, or make it metal`, [{key: "insulate", label: `Insulated, seen along ${from}`, value: insulate,
          choices: [["none", "no rail: metal on both"], ["left", "the left rail"], ["right", "the right rail"], ["both", "both rails"], ["vee", "the rails that meet at a frog"]]}],
        (values) => ({do: "insulate", joint: n, ...values}));
      }
      add("Joints", `Take out the joint ${joint}`, [], () => ({do: "part", joint: n}));
    });
    const free = Object.entries(desk.pieces).flatMap(([other, {ends}]) => Object.entries(ends).filter(([, joint]) => !joint).map(([end]) => `${other}.${end}`));
    const insulation = {key: "insulate", label: "Insulated", choices: [["none", "no rail"], ["left", "the left rail"], ["right", "the right rail"], ["both", "both rails"], ["vee", "the rails that meet at a frog"]]};
    for (const [end, joint] of Object.entries(one.ends)) {
      if (joint) continue;
      const here = `${name}.${end}`, others = free.filter((other) => other !== here);
      if (others.length) add("Joints", `Join ${here} to another end`, [{key: "to", label: "To", choices: others.map((other) => [other, other])}, insulation], (values) => ({do: "join", from: here, ...values}));
      add("Joints", `Add a new piece at ${here}`, ({kind = "rail-section"}) => {
        const {hands} = desk.kinds[kind], plain = kind === "rail-section";
        return [
          {key: "kind", label: "What it is", value: "rail-section", decides: true,
            choices: Object.entries(desk.kinds).map(([name, {title}]) => [name, `${name}: ${title}`])},
          {key: "name", label: "Its name", needed: true},
          ...(hands.length > 1 ? [{key: "hand", label: "Its hand", choices: hands.map((hand) => [hand, hand])}] : []),
          {key: "end", label: "Joined by its end", choices: desk.kinds[kind].ends.map((name) => [name, name])},
          ...(plain ? [{key: "length", label: "Length", hint: "as in 600 mm; of a curve, radius, angle and turn"}, {key: "radius", label: "Radius of a curve"},
            {key: "angle", label: "Angle of a curve"}, {key: "turn", label: "Turns to", choices: [["", "straight"], ["left", "left"], ["right", "right"]]}] : []),
          insulation];
      }, (values) => ({do: "add-piece", at: here, ...values}));
    }
    const side = (letter, value) => ({key: letter, label: `Pole ${letter} to`, value, choices: [["", "no rail"],
      ...(one.sides ? [["left", "the left rail"], ["right", "the right rail"]] : []), ...one.rails.filter((rail) => !one.sides || !["left", "right"].includes(rail)).map((rail) => [rail, rail])]});
    const source = (value) => ({key: "from", label: "From", value, choices: desk.sources.map((from) => [from, from])});
    desk.feeds.forEach((feed, n) => {
      if (feed.piece !== name) return;
      const called = `the feed ${feed.name || `(${feed.wires.map(([rail, pole]) => `${pole} to ${rail}`).join(", ")})`}`;
      add("Feeds", `Swap the poles of ${called}`, [], () => ({do: "swap-feed", feed: n}));
      if (desk.sources.length > 1) add("Feeds", `Feed ${called.slice(4)} from another source`, [source(feed.from)], (values) => ({do: "feed-from", feed: n, ...values}));
      add("Feeds", `Move ${called} to another piece`, [{key: "to", label: "To the piece", needed: true, list: Object.keys(desk.pieces)}], (values) => ({do: "move-feed", feed: n, ...values}));
      add("Feeds", `Take out ${called}`, [], () => ({do: "take-feed", feed: n}));
    });
    add("Feeds", `Feed ${name}`, [source(desk.source), side("A", "left"), side("B", "right"),
      ...(one.kind === "rail-section" ? [{key: "at", label: "At, from its end a", hint: "as in 300 mm"}] : []), {key: "wire", label: "Wire", hint: "as in 0.5 mm2"}, {key: "length", label: "Length of each wire", hint: "as in 250 mm"}],
    (values) => ({do: "add-feed", piece: name, ...values}));
    const ends = terminals();
    desk.contacts.forEach(({name: contact, owner, common, throws}, n) => {
      if (owner !== name && ![common, ...throws.map(([, to]) => to)].some(mine)) return;
      if (throws.length === 2) add("Contacts", `Swap the throws of ${contact}`, [], () => ({do: "swap-throws", contact: n}));
      for (const [place, to] of [["common", common], ...throws]) {
        add("Contacts", `Wire ${place} of ${contact} elsewhere (now ${to || "open"})`, [{key: "to", label: "To", value: to, list: ends, hint: place === "common" ? "" : "left empty: open"}],
          (values) => ({do: "wire-throw", contact: n, place, ...values}));
      }
      add("Contacts", `Take out the contact ${contact}`, [], () => ({do: "take-contact", contact: n}));
    });
    const served = new Set([...desk.contacts.map(({common}) => common), ...Object.values(desk.units)]);
    for (const frog of one.frogs) {
      if (served.has(frog)) continue;
      add("Frogs", `Give ${frog} a contact`, [], () => ({do: "add-contact", frog}));
      add("Frogs", `Give ${frog} a frog unit`, [{key: "from", label: "On the bus", choices: desk.buses.map((bus) => [bus, bus])}], (values) => ({do: "add-unit", frog, ...values}));
    }
    for (const [unit, frog] of Object.entries(desk.units)) {
      if (mine(frog)) add("Frogs", `Take out the frog unit ${unit}`, [], () => ({do: "take-unit", unit}));
    }
    for (const [key, choices] of Object.entries(desk.options[one.kind] ?? {})) {
      const now = one.says[key] ?? "", field = {key: "value", label: key, value: now};
      if (choices.length) field.choices = [...(now && key !== "hand" ? [] : [["", "as its kind has it"]]), ...choices.map((word) => [word, word])];
      add(`How ${name} is built`, `${key}${now ? ` (now ${now})` : ""}`, [field], (values) => ({do: "set-piece", piece: name, key, ...values}));
      if (now && choices.length && key !== "hand") field.choices.push(["", "as its kind has it"]);
    }
    return [...found, naming(name)];
  }
})();
