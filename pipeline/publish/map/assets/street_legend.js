"use strict";
// The legend of the coloured streets: a row per colour, a column per width, and how many streets are drawn so.
const KerfbookStreetLegend = (() => {
  const { say, number } = KerfbookWords;
  const { el, svg } = KerfbookElements;
  const { LEVELS } = KerfbookSymbols;
  const { Roads } = KerfbookRoads;
  const { countStreets, namesOfSteps } = KerfbookStreetLevels;
  const HAZARD = 0;
  const ORDER = LEVELS.indexOf("order");
  // A street of middling class stands for those in order.
  const CLASS = 2;
  const STEPS = [0, 1, 2, 3];
  const sum = (counts) => counts.reduce((total, count) => total + count, 0);

  function line(className, width, more = {}) {
    return svg("path", { d: "M1 9H31", class: className, "stroke-width": width, ...more });
  }

  // A street as it is drawn at a zoom; place: its step, or its class where it is in order.
  function streetIcon(level, place, zoom) {
    const made = svg("svg", { viewBox: "0 0 32 18", class: "street-key", "aria-hidden": "true" });
    const width = Roads.width(zoom, level, place);
    if (level < ORDER) made.append(line("casing", width + 1.4));
    made.append(line(`street-${LEVELS[level]}`, level < ORDER ? width : Math.max(2, width)));
    if (level === HAZARD) made.append(line("street-open", width / 2, { "stroke-dasharray": "3.5 4.5" }));
    return made;
  }

  const heading = (text, scope) => {
    const made = el("th", "", text);
    made.scope = scope;
    return made;
  };

  function cell(count, level, step, zoom) {
    return count ? el("td", "", streetIcon(level, step, zoom), number(count)) : el("td", "");
  }

  // A street that is in order has no steps: one cell, as wide as two.
  function quietCell(count, level, zoom) {
    const made = el("td", "quiet", streetIcon(level, CLASS, zoom), number(count));
    made.colSpan = 2;
    return made;
  }

  function row(level, counts, zoom) {
    const cells = level < ORDER ? STEPS.map((step) => cell(counts[step], level, step, zoom)) : [quietCell(sum(counts), level, zoom)];
    return el("tr", "", heading(say(`legend.street_${LEVELS[level]}`), "row"), ...cells);
  }

  // The levels that there are in the whole network.
  function table(roads, zoom) {
    const counts = countStreets(roads);
    const present = LEVELS.map((_level, l) => l).filter((l) => sum(counts[l]));
    const steps = namesOfSteps(roads, say);
    const isColoured = present.some((level) => level < ORDER);
    const head = el("thead", "", el("tr", "", heading(say("legend.such"), "col"), ...steps.map((name) => heading(name, "col"))));
    const rows = el("tbody", "", ...present.map((level) => row(level, counts[level], zoom)));
    return [el("table", "street-keys", ...(isColoured ? [head] : []), rows), el("p", "hint", say("legend.street_figures"), ...(present.includes(HAZARD) ? [" ", say("legend.street_together")] : []))];
  }

  // For paper: the colours that are on it and, where any of them has widths, what these mean.
  function paperKeys(roads, levels, zoom) {
    const made = LEVELS.flatMap((level, l) => (levels.has(l) ? [el("span", "", streetIcon(l, l < ORDER ? 1 : CLASS, zoom), ` ${say(`legend.street_${level}`)}`)] : []));
    const coloured = [...levels].filter((level) => level < ORDER);
    if (!coloured.length) return made;
    const level = Math.min(...coloured.filter((one) => one !== HAZARD), LEVELS.length);
    const shown = level < ORDER ? level : HAZARD;
    const steps = namesOfSteps(roads, say).map((name, step) => el("span", "", streetIcon(shown, step, zoom), ` ${name}`));
    return [...made, el("span", "steps", el("strong", "", say("legend.such")), ...steps)];
  }

  return { table, paperKeys };
})();
