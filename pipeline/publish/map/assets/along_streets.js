"use strict";
// Where each core lies along its street: worked out in one pass when the street sheet is first opened.
const KerfbookAlongStreets = (() => {
  const { page } = KerfbookWords;
  const DM_PER_M = 10;
  // World integers, about a metre: lines that are nearer meet; they were drawn half a metre simpler.
  const MEETS = 30;

  class AlongStreets {
    constructor(roads, attributes) {
      Object.assign(this, { roads, attributes });
      const { bundle } = roads;
      this.start = bundle.ints("along");
      this.length = bundle.ints("length");
      this.backwards = bundle.ints("backwards");
      this.readStreets();
      this.readCores();
    }

    // A strip per street name; a segment without a name is a strip of its own.
    readStreets() {
      const { roads } = this;
      const codes = roads.bundle.ints("street");
      this.names = roads.bundle.how("street").words;
      this.stripOfRoad = Int32Array.from(codes, (code, r) => (code < 0 ? this.names.length + r : code));
      this.strips = this.names.length + roads.count;
      this.lengthOfStrip = new Float64Array(this.strips);
      for (let r = 0; r < roads.count; r += 1) {
        const strip = this.stripOfRoad[r];
        this.lengthOfStrip[strip] = Math.max(this.lengthOfStrip[strip], (this.start[r] + this.length[r]) / DM_PER_M);
      }
    }

    // The lines of each segment id, and the metres along the segment at which each begins.
    linesById() {
      const found = new Map();
      for (let r = 0; r < this.roads.count; r += 1) {
        const id = this.roads.textOf("id", r);
        const lines = found.get(id);
        if (!lines) found.set(id, [[r, 0]]);
        else lines.push([r, lines.at(-1)[1] + this.length[lines.at(-1)[0]] / DM_PER_M]);
      }
      return found;
    }

    // The strip of each core, -1 for none, and its metres along it.
    readCores() {
      const { bundle, cores } = this.attributes;
      const rowOf = bundle.ints(bundle.how("segment_id").group);
      const digits = bundle.how("chainage_m").digits;
      const chainage = bundle.numbers("chainage_m");
      this.strip = new Int32Array(cores.all).fill(-1);
      this.along = new Float32Array(cores.all);
      const byId = this.linesById();
      const linesOf = [];
      for (let i = 0; i < cores.all; i += 1) {
        const row = rowOf[i];
        if (linesOf[row] === undefined) linesOf[row] = byId.get(bundle.text("segment_id", i)) ?? null;
        const lines = linesOf[row];
        const metres = chainage[i] / 10 ** digits;
        if (lines === null || Number.isNaN(metres)) continue;
        let line = 0;
        while (line + 1 < lines.length && metres >= lines[line + 1][1]) line += 1;
        const [r, from] = lines[line];
        const length = this.length[r] / DM_PER_M;
        const within = Math.min(length, Math.max(0, metres - from));
        this.strip[i] = this.stripOfRoad[r];
        this.along[i] = this.start[r] / DM_PER_M + (this.backwards[r] ? length - within : within);
      }
    }

    nameOf(strip) { return strip < this.names.length ? this.names[strip] : null; }

    // What an unnamed segment is known by.
    idOf(strip) { return strip < this.names.length ? null : this.roads.textOf("id", strip - this.names.length); }

    // The shown cores of each strip along it: strip s has those from first[s] to first[s + 1].
    group(shown) {
      const { strip, along } = this;
      const first = new Uint32Array(this.strips + 1);
      let without = 0;
      for (let i = 0; i < strip.length; i += 1) {
        if (!shown[i]) continue;
        if (strip[i] < 0) without += 1;
        else first[strip[i] + 1] += 1;
      }
      for (let s = 0; s < this.strips; s += 1) first[s + 1] += first[s];
      const cores = new Int32Array(first[this.strips]);
      const next = first.slice();
      for (let i = 0; i < strip.length; i += 1) {
        if (!shown[i] || strip[i] < 0) continue;
        cores[next[strip[i]]] = i;
        next[strip[i]] += 1;
      }
      const of = (s) => cores.slice(first[s], first[s + 1]).sort((a, b) => along[a] - along[b] || a - b);
      return { first, cores, without, of };
    }

    // How urgent each strip is: rank of its most urgent core, the most urgent first, and how many have that urgency.
    urgency({ first, cores }) {
      const { bundle } = this.attributes;
      const words = bundle.how("urgency")?.words ?? [];
      const codes = bundle.codes("urgency");
      const rankOf = words.map((word) => (page.urgencies.indexOf(word) + 1 || page.urgencies.length + 1) - 1);
      const found = { rank: new Uint8Array(this.strips).fill(page.urgencies.length), number: new Uint32Array(this.strips) };
      for (let s = 0; s < this.strips; s += 1) {
        for (let c = first[s]; c < first[s + 1]; c += 1) {
          const code = codes[cores[c]];
          const rank = code < 0 ? page.urgencies.length : rankOf[code];
          if (rank < found.rank[s]) [found.rank[s], found.number[s]] = [rank, 0];
          if (rank === found.rank[s] && rank < page.urgencies.length) found.number[s] += 1;
        }
      }
      return found;
    }

    // The lines of each strip in order along it.
    linesOf(strip) {
      if (!this.lines) {
        this.lines = new Map();
        this.stripOfRoad.forEach((one, r) => {
          const own = this.lines.get(one);
          if (own) own.push(r);
          else this.lines.set(one, [r]);
        });
      }
      return this.lines.get(strip).sort((a, b) => this.start[a] - this.start[b]);
    }

    // The share of a line's length at which a vertex lies on it, or null where it does not.
    shareAt(r, vertex) {
      const { x, y, start } = this.roads;
      let [length, found] = [0, null];
      for (let v = start[r] + 1; v < start[r + 1]; v += 1) {
        const [dx, dy] = [x[v] - x[v - 1], y[v] - y[v - 1]];
        const step = Math.hypot(dx, dy);
        const along = Math.max(0, Math.min(1, ((x[vertex] - x[v - 1]) * dx + (y[vertex] - y[v - 1]) * dy) / (step * step || 1)));
        if (found === null && Math.hypot(x[vertex] - x[v - 1] - along * dx, y[vertex] - y[v - 1] - along * dy) <= MEETS) found = length + along * step;
        length += step;
      }
      return found === null ? null : found / (length || 1);
    }

    limits(r) {
      const { x, y, start } = this.roads;
      let [west, north, east, south] = [Infinity, Infinity, -Infinity, -Infinity];
      for (let v = start[r]; v < start[r + 1]; v += 1) {
        [west, east] = [Math.min(west, x[v]), Math.max(east, x[v])];
        [north, south] = [Math.min(north, y[v]), Math.max(south, y[v])];
      }
      return [west, north, east, south];
    }

    // Where other streets end on a line, or it ends on them: metres along the strip, and the other's strip.
    meetings(r) {
      const { roads } = this;
      const { start } = roads;
      const [west, north, east, south] = this.limits(r);
      const ends = (line) => [start[line], start[line + 1] - 1];
      const metres = (share) => (this.start[r] + this.length[r] * (this.backwards[r] ? 1 - share : share)) / DM_PER_M;
      const found = [];
      for (const other of roads.within(west - MEETS, north - MEETS, east + MEETS, south + MEETS)) {
        if (this.stripOfRoad[other] === this.stripOfRoad[r]) continue;
        const shares = ends(other).map((end) => this.shareAt(r, end)).filter((share) => share !== null);
        ends(r).forEach((end, isLast) => { if (this.shareAt(other, end) !== null) shares.push(isLast); });
        shares.forEach((share) => found.push([metres(share), this.stripOfRoad[other]]));
      }
      return found;
    }

    // Where segments of a strip end or other streets meet it: metres along it, and the names that it meets there; the gaps.
    joints(strip) {
      const lines = this.linesOf(strip);
      const found = new Map();
      const gaps = [];
      let reached = 0;
      const at = (metres) => {
        const key = Math.round(metres);
        if (!found.has(key)) found.set(key, new Set());
        return found.get(key);
      };
      for (const r of lines) {
        const [from, to] = [this.start[r] / DM_PER_M, (this.start[r] + this.length[r]) / DM_PER_M];
        if (from - reached > 1) gaps.push([reached, from]);
        reached = Math.max(reached, to);
        at(from);
        at(to);
        this.meetings(r).forEach(([metres, other]) => at(metres).add(this.nameOf(other)));
      }
      const joints = [...found].sort((a, b) => a[0] - b[0]).map(([metres, names]) => ({ at: metres, names: [...names].filter(Boolean), isCrossing: names.size > 0 }));
      return { joints, gaps, isNorthward: this.isNorthward(lines) };
    }

    // Whether a street runs from south to north rather than from west to east.
    isNorthward(lines) {
      const boxes = lines.map((r) => this.limits(r));
      const wide = Math.max(...boxes.map((box) => box[2])) - Math.min(...boxes.map((box) => box[0]));
      const high = Math.max(...boxes.map((box) => box[3])) - Math.min(...boxes.map((box) => box[1]));
      return high > wide;
    }
  }

  const canBeDrawn = (roads, attributes) => roads.bundle.has("along") && attributes.has("segment_id") && attributes.has("chainage_m") && attributes.has("opened_on");

  return { AlongStreets, canBeDrawn };
})();
