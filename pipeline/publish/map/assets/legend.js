"use strict";
// The legend below the statuses: it explains the marks that are on the map at the present scale, and no others.
const KerfbookLegend = (() => {
  const { page, say } = KerfbookWords;
  const { byId, el, svg } = KerfbookElements;
  const { icon, badgeIcon, hollowIcons } = KerfbookSymbols;
  const { STAGES } = KerfbookCores;
  const FLAGGED = 0;
  const PENDING = 1;
  const REINSTATED = 2;
  // On which symbol a state is shown.
  const SHOWN_ON = { open: PENDING, plated: PENDING, interim: PENDING, back: REINSTATED, unknown: FLAGGED };

  const line = (className, width) => svg("path", { d: "M1 9H31", class: className, "stroke-width": width });

  // A road of a class, as it is drawn where streets are quiet.
  function roadIcon(width) {
    const made = svg("svg", { viewBox: "0 0 32 18", class: "street-key", "aria-hidden": "true" });
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
      made.push(heading("legend.streets"), ...KerfbookStreetLegend.table(roads, zoom));
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

  // Returns what brings the legend up to date.
  function setUp(parts) {
    let shown = "";
    let painted = null;
    return (zoom) => {
      const { cores, roads, hasRoads } = parts;
      const isShown = hasRoads();
      const stage = cores.stageAt(zoom);
      const now = `${stage} ${cores.hasMarks(zoom)} ${isShown} ${stage === STAGES.all ? "" : zoom}`;
      if (now === shown && painted === roads.level) return;
      [shown, painted] = [now, roads.level];
      byId("keys").replaceChildren(...entries({ cores, roads, zoom, hasRoads: isShown }));
    };
  }

  return { setUp };
})();
