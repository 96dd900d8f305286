"use strict";
// What each street is coloured by while a filter is set: the most urgent core among those that are shown.
const KerfbookStreetLevels = (() => {
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
      return this.lines;
    }

    // The levels of all lines; isAsking is whether the filter leaves cores out.
    update(isAsking) {
      const { roads, cores } = this;
      if (!isAsking || !this.bundle.has("segment_id")) {
        roads.level = roads.packedLevel;
        return;
      }
      const lines = this.linesByCode();
      const none = KerfbookSymbols.LEVELS.length - 1;
      const worst = new Uint8Array(lines.length).fill(none);
      const [levels, { shown }, { codes }] = [cores.levels(), cores, this];
      for (let i = 0; i < codes.length; i += 1) if (shown[i] && levels[i] < worst[codes[i]]) worst[codes[i]] = levels[i];
      roads.level = new Uint8Array(roads.count).fill(none);
      lines.forEach((own, code) => own.forEach((i) => { roads.level[i] = Math.min(roads.level[i], worst[code]); }));
    }
  }

  return { StreetLevels };
})();
