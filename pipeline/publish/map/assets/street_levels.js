"use strict";
// What each street is coloured by while a filter is set: the most urgent core among those that are shown; and how many
// such cores there are on its street, which is how wide it is drawn.
const KerfbookStreetLevels = (() => {
  const { LEVELS } = KerfbookSymbols;
  const NONE = LEVELS.indexOf("none");
  const ORDER = LEVELS.indexOf("order");
  const STEPS = 4;
  // By level, what is counted together: hazards and overdue cores, those flagged for another reason, open ones.
  const KINDS = [0, 0, 1, 2];
  const MOST_KINDS = 3;

  const stepOf = (count, [few, many, most]) => (count >= most ? 3 : count >= many ? 2 : count >= few ? 1 : 0);

  class StreetLevels {
    constructor(roads, cores, bundle) {
      Object.assign(this, { roads, cores, bundle, lines: null });
    }

    // By the code of each distinct row of the details that hold a segment: the lines of that segment.
    linesByCode() {
      if (this.lines) return this.lines;
      const { roads, bundle } = this;
      const byId = new Map();
      for (let i = 0; i < roads.count; i += 1) {
        const id = roads.textOf("id", i);
        if (byId.has(id)) byId.get(id).push(i);
        else byId.set(id, [i]);
      }
      this.lines = Array.from(bundle.textsOfRows("segment_id"), (id) => byId.get(id) || []);
      this.codes = bundle.ints(bundle.how("segment_id").group);
      // A segment without the name of a street is a street of its own.
      const streets = roads.bundle.codes("street");
      this.named = roads.bundle.how("street").words.length;
      this.owner = Int32Array.from(this.lines, ([first]) => (first === undefined ? -1 : streets[first] < 0 ? this.named + first : streets[first]));
      return this.lines;
    }

    // The levels and steps of all lines; isAsking is whether the filter leaves cores out.
    update(isAsking) {
      const { roads, cores } = this;
      if (!isAsking || !this.bundle.has("segment_id")) {
        roads.use(roads.packed);
        return;
      }
      const lines = this.linesByCode();
      const worst = new Uint8Array(lines.length).fill(NONE);
      const counts = new Uint32Array((this.named + roads.count) * MOST_KINDS);
      const [levels, { shown }, { codes, owner }] = [cores.levels(), cores, this];
      for (let i = 0; i < codes.length; i += 1) {
        if (!shown[i]) continue;
        const [code, level] = [codes[i], levels[i]];
        if (level < worst[code]) worst[code] = level;
        if (level < ORDER && owner[code] >= 0) counts[owner[code] * MOST_KINDS + KINDS[level]] += 1;
      }
      const found = { level: new Uint8Array(roads.count).fill(NONE), step: new Uint8Array(roads.count) };
      lines.forEach((own, code) => {
        const level = worst[code];
        if (level === NONE) return;
        const step = level < ORDER ? stepOf(counts[owner[code] * MOST_KINDS + KINDS[level]], roads.limits) : 0;
        for (const i of own) if (level < found.level[i]) [found.level[i], found.step[i]] = [level, step];
      });
      roads.use(found);
    }
  }

  // How many streets have each level as their most urgent, by step: [level][step]. A line without the name of a street
  // counts as a street.
  function countStreets(roads) {
    const counts = LEVELS.map(() => new Uint32Array(STEPS));
    const streets = roads.bundle.codes("street");
    const best = new Uint8Array(roads.bundle.how("street").words.length).fill(NONE * STEPS);
    for (let i = 0; i < roads.count; i += 1) {
      const own = roads.level[i] * STEPS + roads.step[i];
      if (streets[i] < 0) counts[roads.level[i]][roads.step[i]] += 1;
      else if (own < best[streets[i]]) best[streets[i]] = own;
    }
    for (const own of best) counts[Math.floor(own / STEPS)][own % STEPS] += 1;
    return counts;
  }

  // What the steps are called: "1", "2–4", "5–9", "10 or more".
  function namesOfSteps({ limits }, say) {
    return [1, ...limits].map((from, s, all) => {
      const to = all[s + 1] - 1;
      if (s === all.length - 1) return say("legend.step_last", { n: from });
      return from === to ? say("legend.step_one", { n: from }) : say("legend.step", { from, to });
    });
  }

  return { StreetLevels, countStreets, namesOfSteps };
})();
