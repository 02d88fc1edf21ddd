// Rails shown by the share of volts lost at the worst place of each piece, in place of their poles.
function makeShade(page) {
  const {data, plan, drawing, at} = page, STEPS = [0, 1, 2.5, 5, 10];
  const worst = Object.entries(data.volts).filter(([piece]) => plan.numbers.has(piece));
  const steps = new Map(worst.map(([piece, [share]]) => [plan.numbers.get(piece), STEPS.filter((limit) => share >= limit).length - 1]));
  if (!worst.length) at("shade").hidden = true;
  STEPS.forEach((limit, number) => {
    const next = STEPS[number + 1], key = drawn("svg", {viewBox: "0 0 48 10", "aria-hidden": "true"});
    key.append(drawn("g", {class: `heat-${number}`}, drawn("path", {class: "rail", d: "M1 5H47"})));
    at("heat-legend").append(element("li", {}, key, next ? ` ${limit} to ${next} %` : ` ${limit} % and more`));
  });
  for (const radio of document.querySelectorAll("input[name=shade]")) radio.addEventListener("change", () => show(radio.value === "volts"));

  function show(volts) {
    if (volts && !drawing.classList.contains("heat")) plan.warm(steps);
    drawing.classList.toggle("heat", volts);
    at("legend").hidden = volts;
    at("heat-legend").hidden = !volts;
  }
}
