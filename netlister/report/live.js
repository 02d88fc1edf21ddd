"use strict";
// Follows the server: loads the page again when there is a newer one, keeps what is seen of it, and says when the
// server has ended. The address keeps the positions.
const live = (() => {
  const meta = (name) => document.querySelector(`meta[name="${name}"]`).content;
  const version = meta("page-version"), kept = "netlister-view";
  if (location.search) history.replaceState(history.state, "", location.pathname + location.hash);

  let bar = null;
  function say(text, kind) {
    if (!bar) {
      bar = document.createElement("p");
      bar.setAttribute("role", "status");
    }
    const row = kind === "done" && document.querySelector(".changes");
    if (!bar.isConnected || !row !== !bar.closest(".changes")) {
      if (row) row.append(bar);
      else document.querySelector(".skip").after(bar);
    }
    bar.className = `news ${kind}`;
    bar.textContent = text;
  }

  // -- what is seen

  const plan = () => document.querySelector("#sheet svg.plan");
  const fields = () => [...document.querySelectorAll("input[type=search][id]")];
  function remember(said = "") {
    const folded = {}, focus = document.activeElement;
    for (const one of document.querySelectorAll("details")) folded[one.querySelector("summary")?.textContent ?? ""] = one.open;
    const view = {said, folded, scroll: [scrollX, scrollY], box: plan()?.getAttribute("viewBox"), focus: focus?.id,
      radios: [...document.querySelectorAll("input[type=radio]:checked")].map((one) => [one.name, one.value]),
      texts: fields().map((one) => [one.id, one.value]),
      sides: [...document.querySelectorAll(".beside")].map((one) => one.scrollTop)};
    try { sessionStorage.setItem(kept, JSON.stringify(view)); } catch { /* the page then begins anew */ }
  }
  function recall() {
    let view = null;
    try {
      view = JSON.parse(sessionStorage.getItem(kept));
      sessionStorage.removeItem(kept);
    } catch { return; }
    if (!view) return;
    for (const one of document.querySelectorAll("details")) {
      const open = view.folded[one.querySelector("summary")?.textContent ?? ""];
      if (open !== undefined) one.open = open;
    }
    for (const [name, value] of view.radios) {
      const one = document.querySelector(`input[name="${CSS.escape(name)}"][value="${CSS.escape(value)}"]`);
      if (one && !one.checked) one.click();
    }
    for (const [id, value] of view.texts) {
      const one = document.getElementById(id);
      if (one && value) {
        one.value = value;
        if (id !== "find-name") one.dispatchEvent(new Event("input"));
      }
    }
    // once the plan has got its size
    requestAnimationFrame(() => requestAnimationFrame(() => {
      const [x, y, width, height] = (view.box ?? "").split(" ").map(Number);
      if (height) document.getElementById("sheet")?.dispatchEvent(new CustomEvent("show-box", {detail: {x, y, width, height}}));
      scrollTo(...view.scroll);
      document.querySelectorAll(".beside").forEach((one, n) => { one.scrollTop = view.sides[n] ?? 0; });
      if (view.focus) document.getElementById(view.focus)?.focus({preventScroll: true});
    }));
    if (view.said) say(view.said, "done");
  }

  // -- what the server says

  const ended = [];                    // told once, when the server is gone
  let misses = 0, over = false, waiting = false, told = "";
  function end(text) {
    over = true;
    say(text, "over");
    for (const one of ended) one(text);
  }
  async function ask() {
    try {
      const answer = await fetch("/version", {cache: "no-store"});
      if (answer.status === 403) return end("netlister watch was started anew, or this page lost its key. What you see changes no more: open the address in the terminal.");
      const now = await answer.text();
      misses = 0;
      if (now !== version) {
        if (!document.querySelector("dialog[open]")) {
          remember(told);
          return location.reload();
        }
        waiting = true;
      }
    } catch {
      misses += 1;
      if (misses > 3) return end("netlister watch has ended, so what you see changes no more and nothing can be written. Start it again in the terminal, and open the address that it prints.");
    }
    setTimeout(ask, 500);
  }
  recall();
  ask();
  return {
    key: meta("page-key"),
    say,
    remember: (text) => { told = text; },
    onEnd: (what) => { ended.push(what); },
    get over() { return over; },
    get waiting() { return waiting; },
  };
})();
