"use strict";
// Loads the page again when the server has a newer one; the address keeps the state.
(() => {
  let known = null;
  const ask = async () => {
    try {
      const answer = await fetch("/version", {cache: "no-store"});
      const version = await answer.text();
      if (known !== null && version !== known) location.reload();
      known = version;
    } catch {
      known = known ?? "";
    }
    setTimeout(ask, 500);
  };
  ask();
})();
