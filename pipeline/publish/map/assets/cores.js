"use strict";
// Draws the cores on a canvas, and finds those under a pointer.
// They are in Morton order: a square of the world's quadtree is one run of them, found by binary search.
// Far out, streets show the most urgent core on them, and only cores without a street have a symbol; closer also hazards,
// then all that is flagged, and from the zoom at which there is room for it every core.
const KerfbookCores = (() => {
  const { page } = KerfbookWords;
  const { STATUSES, sizeOf, spriteOf } = KerfbookSymbols;
  const WORLD = 2 ** 30;
  // 26 bits of each coordinate (0.6 m) make a key that a double holds exactly.
  const DEPTH = 26;
  // The world is 256 pixels wide at zoom 0, so squares of 64 pixels are two levels below the zoom's own.
  const CELL_LEVELS = 2;
  // As many symbols as a square of 512 pixels has room for: of all cores, and of flagged ones over coloured streets.
  const CROWD = 220;
  const CROWD_OF_FLAGGED = 60;
  // Where symbols do not fit, the most urgent one in a square of this many pixels is drawn.
  const SPACING = 13;
  // From this zoom on there is room for marks on a symbol.
  const MARK_ZOOM = 15;
  // Sums are kept per block of this many cores: one per core would be most of the page's memory.
  const BLOCK = 32;
  const STAGES = { loose: 0, hazard: 1, flagged: 2, all: 3 };
  const ALONE = 255;

  function spread(v) {
    let s = v;
    s = (s | (s << 8)) & 0x00ff00ff;
    s = (s | (s << 4)) & 0x0f0f0f0f;
    s = (s | (s << 2)) & 0x33333333;
    return (s | (s << 1)) & 0x55555555;
  }

  // x and y of 26 bits, in two halves of 13, since bitwise work stops at 32.
  function keyOf(x, y) {
    const high = spread(x >>> 13) + 2 * spread(y >>> 13);
    return high * 2 ** 26 + spread(x & 8191) + 2 * spread(y & 8191);
  }

  class Cores {
    constructor(bundle) {
      this.x = bundle.ints("x");
      this.y = bundle.ints("y");
      this.count = this.x.length;
      this.readMarks(bundle.small("marks"));
      this.hasLoose = this.loose.includes(1);
      // Known once the details are read.
      this.readStates = null;
      this.total = STATUSES.map(() => new Uint32Array(Math.ceil(this.count / BLOCK) + 1));
      this.packedZooms = page.zooms;
      this.zooms = this.packedZooms;
      this.show(new Uint8Array(this.all).fill(1));
    }

    // Status, and what marks a core, in one byte each; cores on the map come first, and these cover the others too.
    readMarks(marks) {
      this.all = marks.length;
      const names = ["status", "unsure", "hazard", "overdue", "loose"];
      const [status, unsure, hazard, overdue, loose] = names.map((name) => { this[name] = new Uint8Array(marks.length); return this[name]; });
      for (let i = 0; i < marks.length; i += 1) {
        const mark = marks[i];
        status[i] = mark & 3;
        if (mark < 4) continue;
        unsure[i] = (mark >> 2) & 1;
        hazard[i] = (mark >> 3) & 1;
        overdue[i] = (mark >> 4) & 1;
        loose[i] = (mark >> 5) & 1;
      }
    }

    get symbolZoom() { return this.zooms.all; }

    // What a core makes of its street, as a position in the levels: the lower, the more urgent.
    level(i) {
      if (this.hazard[i]) return 0;
      return this.overdue[i] ? 1 : 2 + this.status[i];
    }

    // The same of all cores, kept.
    levels() {
      if (!this.everyLevel) {
        this.everyLevel = new Uint8Array(this.all);
        for (let i = 0; i < this.all; i += 1) this.everyLevel[i] = this.level(i);
      }
      return this.everyLevel;
    }

    stageAt(zoom) {
      const { hazard, flagged, all } = this.zooms;
      if (zoom >= all) return STAGES.all;
      return zoom >= flagged ? STAGES.flagged : zoom >= hazard ? STAGES.hazard : STAGES.loose;
    }

    // Whether a core has a symbol at a stage, given that the filter lets it through.
    isDrawn(i, stage) {
      return stage === STAGES.all || this.loose[i] === 1 || (stage >= STAGES.hazard && this.hazard[i] === 1) || (stage === STAGES.flagged && this.status[i] === 0);
    }

    // The Morton key of core i, worked out when asked: a binary search over a million asks twenty times.
    key(i) { return keyOf(this.x[i] >>> 4, this.y[i] >>> 4); }

    // Which cores are drawn and found: one byte per core, 1 for yes.
    show(shown) {
      this.shown = shown;
      const { status, count } = this;
      const [flagged, pending, reinstated] = this.total;
      const sums = [0, 0, 0];
      for (let block = 0; block * BLOCK < count; block += 1) {
        const end = Math.min(count, (block + 1) * BLOCK);
        for (let i = block * BLOCK; i < end; i += 1) if (shown[i]) sums[status[i]] += 1;
        [flagged[block + 1], pending[block + 1], reinstated[block + 1]] = sums;
      }
    }

    // Few cores have a symbol each further out than many: the zooms for those that a filter shows.
    fit(isAsking) {
      if (!isAsking) {
        this.zooms = this.packedZooms;
        return;
      }
      const { shown, hazard, status, x, y, count } = this;
      const [all, hazards, flagged] = [CROWD, CROWD_OF_FLAGGED, CROWD_OF_FLAGGED].map((most) => new KerfbookFitting.Squares(most));
      for (let i = 0; i < count; i += 1) {
        if (!shown[i]) continue;
        all.add(x[i], y[i]);
        if (hazard[i]) hazards.add(x[i], y[i]);
        if (status[i] === 0) flagged.add(x[i], y[i]);
      }
      this.zooms = { all: all.zoom(), hazard: hazards.zoom(), flagged: flagged.zoom() };
    }

    // How many shown cores of each status a run holds: full blocks, and the cores around them.
    countRun(from, to) {
      const first = Math.ceil(from / BLOCK);
      const last = Math.max(first, Math.floor(to / BLOCK));
      const counts = this.total.map((t) => t[last] - t[first]);
      const add = (start, end) => {
        for (let i = start; i < end; i += 1) if (this.shown[i]) counts[this.status[i]] += 1;
      };
      add(from, Math.min(to, first * BLOCK));
      add(Math.max(from, last * BLOCK), to);
      return counts;
    }

    firstFrom(key) {
      let [low, high] = [0, this.count];
      while (low < high) {
        const middle = (low + high) >>> 1;
        if (this.key(middle) < key) low = middle + 1;
        else high = middle;
      }
      return low;
    }

    // Calls use(from, to, column, row) for each square of a level that a box (world integers) touches and that holds cores.
    eachRun(west, north, east, south, level, use) {
      const size = 2 ** (30 - level);
      const last = 2 ** level - 1;
      const [c0, r0, c1, r1] = [west, north, east, south].map((v) => Math.max(0, Math.min(last, Math.floor(v / size))));
      const side = 4 ** (DEPTH - level);
      for (let row = r0; row <= r1; row += 1) {
        for (let column = c0; column <= c1; column += 1) {
          const key = keyOf(column * 2 ** (DEPTH - level), row * 2 ** (DEPTH - level));
          const from = this.firstFrom(key);
          if (from === this.count || this.key(from) >= key + side) continue;
          use(from, this.firstFrom(key + side), column, row);
        }
      }
    }

    eachInBox(left, top, right, bottom, zoom, use) {
      const scale = (256 * 2 ** zoom) / WORLD;
      const [west, north, east, south] = [left, top, right, bottom].map((v) => v / scale);
      this.eachRun(west, north, east, south, Math.floor(zoom) + CELL_LEVELS, (from, to) => {
        for (let i = from; i < to; i += 1) {
          if (this.shown[i] && this.x[i] >= west && this.x[i] <= east && this.y[i] >= north && this.y[i] <= south) use(i);
        }
      });
    }

    // How many shown cores of each status lie in a box, without looking at the cores of squares entirely inside it.
    countInBox(left, top, right, bottom, zoom) {
      const scale = (256 * 2 ** zoom) / WORLD;
      const [west, north, east, south] = [left, top, right, bottom].map((v) => v / scale);
      const level = Math.floor(zoom) + CELL_LEVELS;
      const size = 2 ** (30 - level);
      const counts = [0, 0, 0];
      this.eachRun(west, north, east, south, level, (from, to, column, row) => {
        if (column * size >= west && (column + 1) * size <= east && row * size >= north && (row + 1) * size <= south) {
          this.countRun(from, to).forEach((count, s) => { counts[s] += count; });
          return;
        }
        for (let i = from; i < to; i += 1) {
          if (this.shown[i] && this.x[i] >= west && this.x[i] <= east && this.y[i] >= north && this.y[i] <= south) counts[this.status[i]] += 1;
        }
      });
      return counts;
    }

    radius(zoom) {
      return zoom < 13 ? 4.5 : zoom < 15 ? 5.5 : zoom < 17 ? 7 : 8.5;
    }

    // The cores that have a symbol in a box, where it matters which lie on top: the most urgent last.
    drawnIn({ left, top, width, height, zoom }, pad) {
      const stage = this.stageAt(zoom);
      if (stage === STAGES.loose && !this.hasLoose) return [];
      const box = [left - pad, top - pad, left + width + pad, top + height + pad];
      const found = [];
      if (stage === STAGES.all) this.eachInBox(...box, zoom, (i) => found.push(i));
      else {
        // One per square, so that cores without a street never cover the map.
        const scale = (256 * 2 ** zoom) / WORLD / SPACING;
        const squares = new Map();
        this.eachInBox(...box, zoom, (i) => {
          if (!this.isDrawn(i, stage)) return;
          const square = Math.floor(this.x[i] * scale) * 2 ** 25 + Math.floor(this.y[i] * scale);
          const before = squares.get(square);
          if (before === undefined || this.level(i) < this.level(before)) squares.set(square, i);
        });
        found.push(...squares.values());
      }
      return found.sort((a, b) => this.level(b) - this.level(a) || a - b);
    }

    // The box as for the roads; ratio is canvas pixels per pixel of the box.
    paint(ctx, box) {
      const { left, top, zoom, ratio, unit } = box;
      const scale = (256 * 2 ** zoom) / WORLD;
      const radius = this.radius(zoom) * unit;
      for (const i of this.drawnIn(box, 2 * radius)) this.stamp(ctx, i, zoom, this.x[i] * scale - left, this.y[i] * scale - top, radius, ratio);
    }

    hasMarks(zoom) { return zoom >= MARK_ZOOM; }

    // How a core's symbol looks: its status, whether it is uncertain, its level, and its state where there is room.
    lookOf(i, zoom) {
      const hasMarks = this.hasMarks(zoom);
      const isKnown = this.state !== null && this.state[i] !== ALONE;
      return { status: this.status[i], isHollow: this.unsure[i] === 1, level: this.level(i), hasBadge: hasMarks, state: hasMarks && isKnown ? this.state[i] : null };
    }

    stamp(ctx, i, zoom, x, y, radius, ratio) {
      const sprite = spriteOf(this.lookOf(i, zoom), radius * sizeOf(this.level(i)), ratio);
      const half = sprite.width / 2;
      // Whole device pixels keep the outline sharp.
      ctx.drawImage(sprite, Math.round(x * ratio - half) / ratio, Math.round(y * ratio - half) / ratio, sprite.width / ratio, sprite.height / ratio);
    }

    // Each core's position in page.states, or null before the details are read; worked out when first asked for.
    get state() {
      if (this.readStates) {
        this.everyState = this.readStates();
        this.readStates = null;
      }
      return this.everyState ?? null;
    }

    // The words of a column of states, what gives the code of each core among them, and the order of the page's own list.
    learnStates(words, codesOf, states) {
      const position = Uint8Array.from(words, (word) => (states.includes(word) ? states.indexOf(word) : ALONE));
      this.readStates = () => {
        const codes = codesOf();
        const found = new Uint8Array(codes.length);
        for (let i = 0; i < codes.length; i += 1) found[i] = codes[i] < 0 ? ALONE : position[codes[i]];
        return found;
      };
    }

    // The shown cores within reach pixels of a point, nearest first.
    near(px, py, zoom, reach) {
      const scale = (256 * 2 ** zoom) / WORLD;
      const found = [];
      this.eachInBox(px - reach, py - reach, px + reach, py + reach, zoom, (i) => {
        const distance = Math.hypot(this.x[i] * scale - px, this.y[i] * scale - py);
        if (distance <= reach) found.push([distance, this.status[i], i]);
      });
      return found.sort((a, b) => a[0] - b[0] || a[1] - b[1] || a[2] - b[2]).map((hit) => hit[2]);
    }

    // The same among those that have a symbol.
    drawnNear(px, py, zoom, reach) {
      const stage = this.stageAt(Math.round(zoom));
      return this.near(px, py, zoom, reach).filter((i) => this.isDrawn(i, stage));
    }
  }

  return { Cores, STAGES };
})();
