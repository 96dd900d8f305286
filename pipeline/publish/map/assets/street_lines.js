"use strict";
// The segments of each street joined end to end, so that a name can run on over several of them.
const KerfbookStreetLines = (() => {
  // A street of more segments than this is joined where it is in view alone; none that people walk along has more.
  const MOST_JOINED = 2000;

  class StreetLines {
    constructor(roads) {
      this.roads = roads;
      this.codes = roads.bundle.codes("street");
      this.names = roads.bundle.how("street").words;
      this.joined = new Map();
      this.own = this.names.map(() => []);
      for (let i = 0; i < roads.count; i += 1) if (this.codes[i] >= 0) this.own[this.codes[i]].push(i);
    }

    // The lines of a street, each a list of [x, y] in world integers, joined where two ends meet.
    of(street) {
      if (!this.joined.has(street)) {
        const lines = this.own[street].map((i) => this.roads.lineOf(i));
        this.joined.set(street, lines.length > MOST_JOINED ? lines : StreetLines.join(lines));
      }
      return this.joined.get(street);
    }

    static join(lines) {
      const ends = new Map();
      const keyOf = ([x, y]) => `${x} ${y}`;
      lines.forEach((line, l) => {
        for (const point of [line[0], line[line.length - 1]]) {
          const key = keyOf(point);
          if (ends.has(key)) ends.get(key).push(l);
          else ends.set(key, [l]);
        }
      });
      const used = new Uint8Array(lines.length);
      // Goes on from the end of a line as long as one unused line begins or ends there.
      const extend = (line) => {
        for (;;) {
          const end = line[line.length - 1];
          const next = ends.get(keyOf(end)).find((l) => !used[l]);
          if (next === undefined) return line;
          used[next] = 1;
          const more = lines[next];
          const isForward = keyOf(more[0]) === keyOf(end);
          line.push(...(isForward ? more : [...more].reverse()).slice(1));
        }
      };
      const chains = [];
      lines.forEach((line, l) => {
        if (used[l]) return;
        used[l] = 1;
        chains.push(extend(extend([...line]).reverse()));
      });
      return chains;
    }
  }

  return { StreetLines };
})();
