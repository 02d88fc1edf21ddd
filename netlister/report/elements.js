// Elements of the page: made with attributes and with what stands in them, texts always as text, never as HTML.
function element(name, attributes = {}, ...inner) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...inner);
  return made;
}

// A button, and what is done when it is pressed.
function pressed(text, press, attributes = {}) {
  const made = element("button", {type: "button", ...attributes}, text);
  made.addEventListener("click", press);
  return made;
}
