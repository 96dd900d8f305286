"use strict";
// The view as part of the page's address: what follows "#" reopens the same place, filter, units and core.
const KerfbookLink = (() => {
  const { isoOf, dayOf } = KerfbookWords;
  const { CHOICES, RANGES, ANY } = KerfbookQuestions;
  // Browsers refuse more than a few changes a second.
  const PAUSE = 250;
  const VIEWS = new Set(["map", "table", "streets", "months"]);

  // An empty choice is "not known"; "*" is any choice, "!" a question with nothing ticked.
  const LETTERS = new Map([[null, ""], [ANY, "*"]]);
  const MEANT = new Map([...LETTERS].map(([word, letter]) => [letter, word]));

  function putQuestions(parts, wanted) {
    for (const question of CHOICES) {
      const words = wanted[question];
      if (words) [...words].forEach((word) => parts.append(question, LETTERS.get(word) ?? `=${word}`));
      if (words && !words.size) parts.append(question, "!");
    }
    for (const question of RANGES) {
      if (wanted[question]) parts.set(question, wanted[question].map((day) => (day === null ? "" : isoOf(day))).join("/"));
    }
    if (typeof wanted.open === "number") parts.set("open", isoOf(wanted.open));
  }

  // A question that is asked for every word it has is shorter without them.
  function inShort(filter) {
    return Object.fromEntries(Object.entries(filter.wanted).map(([question, words]) =>
      [question, words instanceof Set && filter.isAny(question) ? new Set([ANY]) : words]));
  }

  // Place, core and units are left out where they are not given.
  function address({ wanted, place, id, row, view, units }) {
    const parts = new URLSearchParams();
    if (place) parts.set("at", [place.zoom.toFixed(2), ...place.centre.map((degrees) => degrees.toFixed(6))].join("/"));
    putQuestions(parts, wanted);
    if (id !== null && id !== undefined) parts.set("core", id);
    // Only a core without an id is linked by its row, which moves between runs.
    else if (row !== null && row !== undefined) parts.set("row", String(row));
    if (view && view !== "map") parts.set("view", view);
    if (units === "us") parts.set("units", units);
    return `#${parts}`;
  }

  const write = ({ filter, centre, zoom, ...others }) => address({ wanted: inShort(filter), place: { centre, zoom }, ...others });

  // What an address asks for; null for anything that it leaves out or gets wrong.
  function read(hash) {
    const parts = new URLSearchParams(hash.replace(/^#/, ""));
    const [zoom, lat, lon] = (parts.get("at") || "").split("/").map((text) => (text === "" ? NaN : Number(text)));
    const isPlace = [zoom, lat, lon].every(Number.isFinite) && Math.abs(lat) <= 90 && Math.abs(lon) <= 360;
    const wanted = {};
    for (const question of CHOICES) {
      const words = parts.getAll(question);
      if (words.length) wanted[question] = new Set(words.filter((word) => word !== "!").map((word) => (MEANT.has(word) ? MEANT.get(word) : word.slice(1))));
    }
    for (const question of RANGES) {
      if (parts.has(question)) wanted[question] = parts.get(question).split("/").slice(0, 2).map(dayOf);
      if (wanted[question]?.length === 1) wanted[question].push(null);
    }
    wanted.open = dayOf(parts.get("open"));
    const row = /^\d{1,9}$/.test(parts.get("row") || "") ? Number(parts.get("row")) : null;
    return {
      place: isPlace ? { zoom, centre: [lat, lon] } : null,
      wanted,
      id: parts.get("core"),
      row,
      view: VIEWS.has(parts.get("view")) ? parts.get("view") : "map",
      units: parts.get("units") === "us" ? "us" : parts.has("at") ? "metric" : null,
    };
  }

  // Keeps the address up to date, and follows it when somebody changes it; returns what to call after each change.
  function follow(state, apply) {
    let waiting = 0;
    let written = window.location.hash;
    const put = () => {
      waiting = 0;
      // Somebody changed it: the event is on its way, and must find what was typed.
      if (window.location.hash !== written) return;
      const hash = write(state());
      if (hash === written) return;
      try {
        window.history.replaceState(null, "", hash);
      } catch {
        // This browser does not let a page from disk change its address: the link button still copies it.
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

  return { address, write, read, follow };
})();
