// The test sheet: readings are marked, kept in the browser's own storage, and weighed against every single fault.
function makeSheet(sheet, name, {save, find}) {
  if (!sheet || !document.getElementById("verdict")) return null;
  const {expect, faults, file} = sheet;
  const at = (id) => document.getElementById(id);
  const key = `netlister readings ${name} ${hash(file)}`;  // another sheet begins anew
  const taken = expect.map(() => -1);  // per reading: -1 not taken, 0 silent, 1 beeps
  const radios = expect.map((_, n) => [...document.querySelectorAll(`input[name="reading-${n + 1}"]`)]);
  let sure = false;

  function hash(text) {
    let found = 5381;
    for (let i = 0; i < text.length; i++) found = (found * 33 ^ text.charCodeAt(i)) >>> 0;
    return found.toString(36);
  }

  function keep() {
    try {
      localStorage.setItem(key, taken.join(" "));
    } catch {
      at("readings-said").textContent = "This browser keeps nothing for a file: save the readings as CSV.";
    }
  }

  function recall() {
    try {
      const kept = (localStorage.getItem(key) ?? "").split(" ").map(Number);
      if (kept.length === taken.length) kept.forEach((value, n) => { if (value === 0 || value === 1) taken[n] = value; });
    } catch { /* nothing is kept */ }
  }

  function show() {
    radios.forEach((pair, n) => {
      for (const radio of pair) radio.checked = Number(radio.value) === taken[n];
      const row = at(`reading-${n + 1}`);
      row?.classList.toggle("wrong", taken[n] >= 0 && taken[n] !== expect[n]);
      row?.classList.toggle("right", taken[n] === expect[n]);
    });
    weigh();
  }

  // A single fault explains what was read if it turns exactly the readings that came out wrong, of those taken.
  function explains(turned) {
    return taken.every((value, n) => value < 0 || (value !== expect[n]) === turned.includes(n));
  }

  function weigh() {
    const count = taken.filter((value) => value >= 0).length, wrong = taken.filter((value, n) => value >= 0 && value !== expect[n]).length;
    const box = at("verdict");
    box.replaceChildren();
    const say = (text) => box.append(Object.assign(document.createElement("p"), {textContent: text}));
    say(`${count} of ${expect.length} readings taken, ${wrong} wrong.`);
    if (count === expect.length && !wrong) {
      say("Every reading of this sheet is right. What no reading sees is listed below, if there is any; the first minutes with the supply on still want somebody there.");
      return;
    }
    if (!wrong) return;
    const found = faults.filter(([, , ways]) => ways.some(explains));
    if (!found.length) {
      say("No single fault explains these readings: there are two or more, or a reading went wrong. Take the wrong ones again; then give the saved readings to netlister diagnose, which weighs pairs of faults as well.");
      return;
    }
    say(found.length === 1 ? "One single fault explains them:" : `${found.length} single faults explain them; take further readings to tell them apart:`);
    const list = document.createElement("ul");
    for (const [fault, parts] of found.slice(0, 20)) {
      const item = document.createElement("li"), go = Object.assign(document.createElement("button"), {type: "button", className: "go", textContent: fault});
      go.addEventListener("click", () => find(parts));
      item.append(go);
      list.append(item);
    }
    box.append(list);
    if (found.length > 20) say(`and ${found.length - 20} more`);
    const next = bestNext(found);
    if (next >= 0) say(`Reading ${next + 1} tells most of them apart.`);
  }

  // The reading not yet taken that parts the faults that are left most evenly.
  function bestNext(found) {
    let best = -1, most = 0;
    taken.forEach((value, n) => {
      if (value >= 0) return;
      const turned = found.filter(([, , ways]) => ways.some((way) => way.includes(n))).length;
      const parted = Math.min(turned, found.length - turned);
      if (parted > most) [best, most] = [n, parted];
    });
    return best;
  }

  radios.forEach((pair, n) => {
    for (const radio of pair) {
      radio.addEventListener("change", () => {
        taken[n] = Number(radio.value);
        at("readings-said").textContent = "";
        keep();
        show();
      });
    }
  });

  at("save-readings").addEventListener("click", () => {
    const [head, ...rows] = file.trimEnd().split("\n");
    // the reading is the field before the last two, which hold no comma
    const filled = rows.map((row, n) => row.replace(/,,([^,]*),([^,]*)$/, (_, must, number) =>
      `,${n < taken.length && taken[n] >= 0 ? ["silent", "beep"][taken[n]] : ""},${must},${number}`));
    save("readings.csv", "text/csv", `${[head, ...filled].join("\n")}\n`);
  });
  at("clear-readings").addEventListener("click", () => {
    if (!sure) {
      sure = true;
      at("readings-said").textContent = "Press again to clear all readings.";
      return;
    }
    sure = false;
    taken.fill(-1);
    keep();
    at("readings-said").textContent = "Cleared.";
    show();
  });
  recall();
  show();
  return {explains, taken};
}
