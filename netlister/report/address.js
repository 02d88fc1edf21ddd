// The address keeps what is seen: positions, finding, probes, train. Each set of positions is a step of the browser's
// own history.
function makeAddress(page, parts) {
  const {at} = page;
  let timer = 0, noted = null;

  function fragment() {
    const found = new URLSearchParams();
    for (const part of parts) part.tell(found);
    return found.toString();
  }

  function remember() {
    if (!page.ready || timer) return;
    timer = setTimeout(() => {
      timer = 0;
      history[page.state === noted ? "replaceState" : "pushState"](null, "", `#${fragment()}`);
      noted = page.state;
    }, 150);
  }

  // What was written is there now; nothing of it is a new step.
  function settle() {
    clearTimeout(timer);
    timer = 0;
    noted = page.state;
  }

  window.addEventListener("hashchange", (event) => {
    settle();
    page.recall(new URLSearchParams(new URL(event.newURL).hash.slice(1)));
    settle();
  });

  at("copy").addEventListener("click", async () => {
    const link = `${location.href.split("#")[0]}#${fragment()}`;
    try {
      await navigator.clipboard.writeText(link);
      at("copied").textContent = "Copied.";
    } catch {
      history.replaceState(null, "", `#${fragment()}`);
      at("copied").textContent = "It stands in the address line; copy it from there.";
    }
  });

  return {remember, settle};
}
