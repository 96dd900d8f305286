"use strict";
// The legend below the statuses: it explains the marks that are on the map at the present scale, and no others.
const KerfbookLegend = (() => {
  const { page, say } = KerfbookWords;
  const { byId, el, svg } = KerfbookElements;
  const { LEVELS, icon, badgeIcon, hollowIcons } = KerfbookSymbols;
  const { STAGES } = KerfbookCores;
  const FLAGGED = 0;
  const PENDING = 1;
  const REINSTATED = 2;
  const WIDTHS = { hazard: 6, overdue: 5.5, flagged: 4.8, open: 4.4, order: 3, none: 2 };
  // On which symbol a state is shown.
  const SHOWN_ON = { open: PENDING, plated: PENDING, interim: PENDING, back: REINSTATED, unknown: FLAGGED };

  function line(className, width, more = {}) {
    return svg("path", { d: "M1 7H29", class: className, "stroke-width": width, ...more });
  }

  function streetIcon(level) {
    const made = svg("svg", { viewBox: "0 0 30 14", class: "street-key", "aria-hidden": "true" });
    const width = WIDTHS[level];
    if (LEVELS.indexOf(level) < LEVELS.indexOf("order")) made.append(line("casing", width + 1.6));
    made.append(line(`street-${level}`, width));
    if (level === "hazard") made.append(line("street-open", width / 2, { "stroke-dasharray": "3.5 4.5" }));
    return made;
  }

  // A road of a class, as it is drawn where streets are quiet.
  function roadIcon(width) {
    const made = svg("svg", { viewBox: "0 0 30 14", class: "street-key", "aria-hidden": "true" });
    made.append(line("quiet", width + 2), line("plain", width));
    return made;
  }

  const entry = (mark, key, className = "") => el("p", className, mark, el("span", "", say(key)));
  const heading = (key) => el("h3", "", say(key));
  // Under a heading, in two columns; nothing where there is nothing to explain.
  const group = (key, keys) => (keys.length ? [heading(key), el("div", "columns", ...keys)] : []);

  // What is drawn at a zoom: the levels of the streets, or the parts of the symbols.
  function entries({ cores, roads, zoom, hasRoads }) {
    const stage = cores.stageAt(zoom);
    const made = [];
    if (stage !== STAGES.all && hasRoads) {
      const present = new Set(roads.level);
      made.push(...group("legend.streets", LEVELS.filter((_level, l) => present.has(l)).map((level) => entry(streetIcon(level), `legend.street_${level}`))));
      made.push(el("p", "", el("span", "", say(`legend.stage_${["loose", "hazard", "flagged"][stage]}`))));
    }
    if (cores.hasMarks(zoom) && stage !== STAGES.loose) made.push(...marks(cores, stage));
    // Above the layers, which follow.
    made.push(heading("legend.lines"), ...lines({ stage, roads, hasRoads }));
    return made;
  }

  const lines = ({ stage, roads, hasRoads }) => (stage === STAGES.all && hasRoads && new Set(roads.rank).size > 1
    ? [entry(el("span", "icons", roadIcon(6), roadIcon(2.5)), "legend.classes", "wide")] : []);

  function marks(cores, stage) {
    const urgent = [];
    if (cores.hazard.includes(1)) urgent.push(entry(badgeIcon("hazard"), "legend.street_hazard", "wide"));
    if (stage >= STAGES.flagged && cores.overdue.includes(1)) urgent.push(entry(badgeIcon("overdue"), "legend.overdue"));
    const made = group("legend.urgency", urgent);
    if (stage !== STAGES.all) return made;
    const present = new Set(cores.state ?? []);
    const states = page.states.filter((_state, s) => present.has(s)).map((state) => entry(icon(SHOWN_ON[state], false, null, state), `legend.state_${state}`));
    if (cores.unsure.includes(1)) states.push(entry(el("span", "icons", ...hollowIcons()), "legend.unsure", "wide"));
    made.push(...group("legend.state", states));
    return made;
  }

  // For paper: what the colours of the streets mean.
  const streetKeys = () => LEVELS.map((level) => el("span", "", streetIcon(level), ` ${say(`legend.street_${level}`)}`));

  // Returns what brings the legend up to date.
  function setUp(parts) {
    let shown = "";
    return (zoom) => {
      const { cores, roads, hasRoads } = parts;
      const isShown = hasRoads();
      const now = `${cores.stageAt(zoom)} ${cores.hasMarks(zoom)} ${isShown} ${[...new Set(roads.level)]}`;
      if (now === shown) return;
      shown = now;
      byId("keys").replaceChildren(...entries({ cores, roads, zoom, hasRoads: isShown }));
    };
  }

  return { setUp, streetKeys };
})();
