// The meter: two probes on rails; what would beep, and what would be read.
function makeMeter(page) {
  const {data, circuit, plan, marks, at, nodeOf} = page;
  const probes = [-1, -1], fields = [at("probe-0"), at("probe-1")];
  const HEARD = {
    beep: "It beeps: joined.",
    resists: "Joined only over a lamp, diode or resistor: it may stay silent.",
    silent: "Silent: not joined.",
  };
  let listed = false;

  fields.forEach((field, which) => {
    field.addEventListener("focus", () => {
      if (listed) return;
      listed = true;
      at("rails").append(...data.rails.map((node) => element("option", {value: data.names[node]})));
    });
    field.addEventListener("change", () => {
      const node = nodeOf.get(field.value.trim());
      put(which, node === undefined ? -1 : node);
      if (node === undefined && field.value.trim()) {
        at("beep").textContent = `There is no rail ${field.value.trim()}.`;
        at("volts-read").textContent = "–";
      }
    });
  });

  function put(which, node) {
    probes[which] = node;
    if (node >= 0) fields[which].value = data.names[node];
    read();
    page.remember();
    if (node >= 0) page.say(`${which ? "Black" : "Red"} probe on ${data.names[node]}. ${at("beep").textContent} ${at("volts-read").textContent}`);
  }

  // A tap puts a probe there, and the other one is next.
  function tap(which, node) {
    put(which, node);
    if (probes[1 - which] < 0) document.querySelector(`input[name=tap][value="${1 - which}"]`).checked = true;
  }

  function read() {
    marks.clear("probes");
    probes.forEach((node, which) => {
      const spot = plan.along(node, which ? 0.62 : 0.38);
      if (!spot) return;
      marks.put("probes", drawn("g", {class: `probe probe-${which}`, transform: `translate(${spot.join(" ")})`},
        drawn("path", {d: which ? "M-4 -4h8v8h-8z" : "M0 -6L6 0 0 6 -6 0z"})));
    });
    const [one, two] = probes;
    if (one < 0 || two < 0) {
      at("beep").textContent = "Put both probes on a rail.";
      at("volts-read").textContent = "–";
      return;
    }
    const heard = circuit.beep(one, two, page.state), volts = circuit.volts(one, two, page.found);
    at("beep").textContent = HEARD[heard];
    at("beep").dataset.heard = heard;
    at("volts-read").textContent = `${volts.text}.`;
    at("volts-read").dataset.what = volts.what;
    at("volts-read").dataset.volts = volts.volts ?? "";
  }

  function tell(parts) {
    probes.forEach((node, which) => { if (node >= 0) parts.set(which ? "black" : "red", data.names[node]); });
  }

  function recall(parts) {
    ["red", "black"].forEach((name, which) => {
      const node = nodeOf.get(parts.get(name));
      probes[which] = node === undefined ? -1 : node;
      fields[which].value = node === undefined ? "" : data.names[node];
    });
  }

  return {tap, read, tell, recall};
}
