"use strict";
// The view as the page's own address: what stands after "#" reopens the same place, filter and core.
const KerfbookLink = (() => {
  const { isoOf, dayOf } = KerfbookWords;
  const { CHOICES, RANGES } = KerfbookFilter;
  // Browsers refuse more than a few changes a second.
  const PAUSE = 250;

  function write({ filter, centre, zoom, row, isTable, units }) {
    const said = new URLSearchParams();
    said.set("at", [zoom.toFixed(2), ...centre.map((degrees) => degrees.toFixed(6))].join("/"));
    for (const question of CHOICES) {
      const wanted = filter.wanted[question];
      // A choice without a word stands for what is not known; a question with nothing ticked has none at all.
      if (wanted) [...wanted].forEach((word) => said.append(question, word === null ? "" : `=${word}`));
      if (wanted && !wanted.size) said.append(question, "!");
    }
    for (const question of RANGES) {
      const wanted = filter.wanted[question];
      if (wanted) said.set(question, wanted.map((day) => (day === null ? "" : isoOf(day))).join("/"));
    }
    if (filter.wanted.open !== null) said.set("open", isoOf(filter.wanted.open));
    if (row !== null) said.set("row", String(row));
    if (isTable) said.set("view", "table");
    if (units === "us") said.set("units", units);
    return `#${said}`;
  }

  // What an address asks for; what it does not say, or says wrongly, is left at null.
  function read(hash) {
    const said = new URLSearchParams(hash.replace(/^#/, ""));
    const [zoom, lat, lon] = (said.get("at") || "").split("/").map((part) => (part === "" ? NaN : Number(part)));
    const isPlace = [zoom, lat, lon].every(Number.isFinite) && Math.abs(lat) <= 90 && Math.abs(lon) <= 360;
    const wanted = {};
    for (const question of CHOICES) {
      const words = said.getAll(question);
      if (words.length) wanted[question] = new Set(words.filter((word) => word !== "!").map((word) => (word === "" ? null : word.slice(1))));
    }
    for (const question of RANGES) {
      if (said.has(question)) wanted[question] = said.get(question).split("/").slice(0, 2).map(dayOf);
      if (wanted[question]?.length === 1) wanted[question].push(null);
    }
    wanted.open = dayOf(said.get("open"));
    const row = /^\d{1,9}$/.test(said.get("row") || "") ? Number(said.get("row")) : null;
    return {
      place: isPlace ? { zoom, centre: [lat, lon] } : null,
      wanted,
      row,
      isTable: said.get("view") === "table",
      units: said.get("units") === "us" ? "us" : said.has("at") ? "metric" : null,
    };
  }

  // Keeps the address up to date, and follows it when it is changed by hand.
  function follow(state, apply) {
    let waiting = 0;
    let written = window.location.hash;
    const put = () => {
      waiting = 0;
      // Changed by hand: its event is on the way, and must find what was typed.
      if (window.location.hash !== written) return;
      const hash = write(state());
      if (hash === written) return;
      try {
        window.history.replaceState(null, "", hash);
      } catch {
        // A browser that keeps a page from disk from its own address: the link button still gives it.
      }
      written = window.location.hash;
    };
    window.addEventListener("hashchange", () => {
      if (window.location.hash === written) return;
      written = window.location.hash;
      apply(read(written));
    });
    return () => {
      clearTimeout(waiting);
      waiting = setTimeout(put, PAUSE);
    };
  }

  return { write, read, follow };
})();
