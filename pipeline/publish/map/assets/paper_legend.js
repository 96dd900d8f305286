"use strict";
// The legend of a printed map: what is drawn on that map, and nothing else.
const KerfbookPaperLegend = (() => {
  const { page, say, number } = KerfbookWords;
  const { el } = KerfbookElements;
  const { STATUSES, icon, badgeIcon, hollowIcons } = KerfbookSymbols;
  const { STAGES } = KerfbookCores;
  const STAGE_NAMES = ["loose", "hazard", "flagged"];
  // On which symbol a state is shown, by its name: pending, reinstated or flagged.
  const SHOWN_ON = { open: 1, plated: 1, interim: 1, back: 2, unknown: 0 };

  // What cores are drawn with, of those that have a symbol at a stage.
  class Held {
    constructor(cores, stage, hasMarks) {
      Object.assign(this, { cores, stage, hasMarks, counts: STATUSES.map(() => 0), drawn: STATUSES.map(() => false), states: new Set() });
      Object.assign(this, { hasUnsure: false, hasHazard: false, hasOverdue: false });
    }

    add(i) {
      const { cores } = this;
      this.counts[cores.status[i]] += 1;
      if (!cores.isDrawn(i, this.stage)) return;
      this.drawn[cores.status[i]] = true;
      this.hasUnsure ||= cores.unsure[i] === 1;
      if (!this.hasMarks) return;
      if (cores.hazard[i]) this.hasHazard = true;
      else if (cores.overdue[i]) this.hasOverdue = true;
      if (cores.state) this.states.add(cores.state[i]);
    }
  }

  // The cores that a filter shows in the box of a map.
  function heldIn(cores, { box }) {
    const held = new Held(cores, cores.stageAt(box.zoom), cores.hasMarks(box.zoom));
    cores.eachInBox(box.left, box.top, box.left + box.width, box.top + box.height, box.zoom, (i) => held.add(i));
    return held;
  }

  // The cores of a sheet, each with its symbol and marks.
  function heldBy(cores, some) {
    const held = new Held(cores, STAGES.all, true);
    some.forEach((i) => held.add(i));
    return held;
  }

  const entry = (mark, text) => el("span", "", ...[mark].flat(), ` ${text}`);

  // A count beside a symbol only where every core has one.
  function coreEntries({ stage, counts, drawn, states, hasUnsure, hasHazard, hasOverdue }) {
    const isEach = stage === STAGES.all;
    const made = STATUSES.flatMap((status, s) => (drawn[s] ? [entry(icon(s), isEach ? `${status.label} ${number(counts[s])}` : status.label)] : []));
    if (!isEach && drawn.some((one) => one)) made.push(el("span", "", say(`paper.stage_${STAGE_NAMES[stage]}`)));
    page.states.forEach((state, s) => {
      if (states.has(s) && state !== "back") made.push(entry(icon(SHOWN_ON[state], false, null, state), say(`legend.state_${state}`)));
    });
    if (hasHazard) made.push(entry(badgeIcon("hazard"), say("legend.street_hazard")));
    if (hasOverdue) made.push(entry(badgeIcon("overdue"), say("legend.overdue")));
    if (hasUnsure) made.push(entry(hollowIcons(), say("legend.unsure")));
    return made;
  }

  // lines: which lines are on the map, as KerfbookPaperMap.linesOn finds them.
  function draw(held, { levels, roads, zoom, works, hasRoads, hasOutlines, hasBand }) {
    const made = coreEntries(held);
    if (hasBand) made.push(entry(el("span", "key band"), say("paper.band")));
    if (levels.size) made.push(el("strong", "", say("legend.streets")), ...KerfbookStreetLegend.paperKeys(roads, levels, zoom));
    else if (hasRoads) made.push(entry(el("span", "key road"), say("legend.roads")));
    works.forEach((kind) => made.push(entry(el("span", `key works-${kind}`), say(`legend.works_${kind}`))));
    if (hasOutlines) made.push(entry(el("span", "key outline"), say("legend.outlines")));
    return el("p", "paper-legend", ...made);
  }

  return { heldIn, heldBy, draw };
})();
