"use strict";
// What the address asks for is carried on to the maps; a choice of one district opens its map at once.
(() => {
  const links = [...document.querySelectorAll("a.to-map")];
  const carried = document.getElementById("carried");

  function follow() {
    const hash = window.location.hash;
    const asked = new URLSearchParams(hash.replace(/^#/, ""));
    const isChoice = hash.includes("=");
    for (const link of links) link.setAttribute("href", link.getAttribute("href").split("#")[0] + (isChoice ? hash : ""));
    carried.hidden = !isChoice;
    const districts = asked.getAll("district");
    const only = districts.length === 1 ? links.find((link) => link.dataset.choice === districts[0]) : undefined;
    if (only) window.location.replace(only.getAttribute("href"));
  }

  window.addEventListener("hashchange", follow);
  follow();
})();
