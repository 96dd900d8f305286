"use strict";
// Draws the cores on a canvas, and finds those under a pointer.
// They are in Morton order: a square of the world's quadtree is one run of them, found by binary search.
const KerfbookCores = (() => {
  const { STATUSES, spriteOf, paintRing } = KerfbookSymbols;
  const WORLD = 2 ** 30;
  // 26 bits of each coordinate (0.6 m) make a key that a double holds exactly.
  const DEPTH = 26;
  // The world is 256 pixels wide at zoom 0, so squares of 64 pixels are two levels below the zoom's own.
  const CELL_LEVELS = 2;
  const CELL = 64;
  // One symbol per core is readable up to about this many in 512 x 512 pixels.
  const CROWD = 600;
  const LAST_RING_ZOOM = 17;
  // From this zoom on there is room for the mark of a hazard.
  const BADGE_ZOOM = 15;
  // Sums are kept per block of this many cores: one per core would be most of the page's memory.
  const BLOCK = 32;

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
      // Cores on the map come first; status and hollowness cover the others too.
      this.status = bundle.small("status");
      this.unsure = bundle.small("unsure");
      this.hazard = bundle.small("hazard");
      this.count = this.x.length;
      this.all = this.status.length;
      const blocks = Math.ceil(this.count / BLOCK) + 1;
      this.total = STATUSES.map(() => new Uint32Array(blocks));
      this.sumX = new Float64Array(blocks);
      this.sumY = new Float64Array(blocks);
      this.show(new Uint8Array(this.all).fill(1));
      this.symbolZoom = this.findSymbolZoom();
    }

    // The Morton key of core i, worked out when asked: a binary search over a million asks twenty times.
    key(i) { return keyOf(this.x[i] >>> 4, this.y[i] >>> 4); }

    // Which cores are drawn and found: one byte per core, 1 for yes.
    show(shown) {
      this.shown = shown;
      const { x, y, status, count, sumX, sumY } = this;
      const [flagged, pending, reinstated] = this.total;
      const sums = [0, 0, 0];
      let [left, top] = [0, 0];
      for (let block = 0; block * BLOCK < count; block += 1) {
        const end = Math.min(count, (block + 1) * BLOCK);
        for (let i = block * BLOCK; i < end; i += 1) {
          if (!shown[i]) continue;
          sums[status[i]] += 1;
          left += x[i];
          top += y[i];
        }
        [flagged[block + 1], pending[block + 1], reinstated[block + 1]] = sums;
        sumX[block + 1] = left;
        sumY[block + 1] = top;
      }
    }

    // How many shown cores of each status a run holds, and the sums of their coordinates: full blocks, and the cores around them.
    sumsOf(from, to) {
      const first = Math.ceil(from / BLOCK);
      const last = Math.max(first, Math.floor(to / BLOCK));
      const found = { counts: this.total.map((t) => t[last] - t[first]), x: this.sumX[last] - this.sumX[first], y: this.sumY[last] - this.sumY[first] };
      const add = (start, end) => {
        for (let i = start; i < end; i += 1) {
          if (!this.shown[i]) continue;
          found.counts[this.status[i]] += 1;
          found.x += this.x[i];
          found.y += this.y[i];
        }
      };
      add(from, Math.min(to, first * BLOCK));
      add(Math.max(from, last * BLOCK), to);
      return found;
    }

    // One zoom for the whole map: deciding tile by tile would leave seams.
    findSymbolZoom() {
      for (let zoom = 1; zoom <= LAST_RING_ZOOM; zoom += 1) {
        const side = 4 ** (DEPTH - (zoom - 1));
        const counts = [];
        for (let i = 0; i < this.count;) {
          const next = this.firstFrom((Math.floor(this.key(i) / side) + 1) * side);
          counts.push(next - i);
          i = next;
        }
        counts.sort((a, b) => a - b);
        if (!counts.length || counts[Math.floor((counts.length - 1) * 0.98)] <= CROWD) return zoom;
      }
      return LAST_RING_ZOOM + 1;
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
          this.sumsOf(from, to).counts.forEach((count, s) => { counts[s] += count; });
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

    // The box as for the roads; ratio is canvas pixels per pixel of the box.
    paint(ctx, box) {
      if (box.zoom < this.symbolZoom) this.paintRings(ctx, box);
      else this.paintSymbols(ctx, box);
    }

    paintSymbols(ctx, { left, top, width, height, zoom, ratio, unit }) {
      const scale = (256 * 2 ** zoom) / WORLD;
      const radius = this.radius(zoom) * unit;
      const pad = 2 * radius;
      const groups = STATUSES.map(() => []);
      this.eachInBox(left - pad, top - pad, left + width + pad, top + height + pad, zoom, (i) => groups[this.status[i]].push(i));
      // Cores that need attention lie on top, and hazards on top of all.
      for (const isHazard of [0, 1]) {
        for (const s of [2, 1, 0]) {
          for (const i of groups[s]) {
            if (this.hazard[i] === isHazard) this.stamp(ctx, i, zoom, this.x[i] * scale - left, this.y[i] * scale - top, radius, ratio);
          }
        }
      }
    }

    stamp(ctx, i, zoom, x, y, radius, ratio) {
      const isHazard = zoom >= BADGE_ZOOM && this.hazard[i] === 1;
      const sprite = spriteOf(this.status[i], this.unsure[i], isHazard, radius, ratio);
      const half = sprite.width / 2;
      // Whole device pixels keep the outline sharp.
      ctx.drawImage(sprite, Math.round(x * ratio - half) / ratio, Math.round(y * ratio - half) / ratio, sprite.width / ratio, sprite.height / ratio);
    }

    // Far out, one ring per 64 x 64 pixels: its parts by status, the number inside.
    paintRings(ctx, { left, top, width, height, zoom, ratio, unit }) {
      const scale = (256 * 2 ** zoom) / WORLD;
      const [west, north] = [(left - CELL) / scale, (top - CELL) / scale];
      const [east, south] = [(left + width + CELL) / scale, (top + height + CELL) / scale];
      this.eachRun(west, north, east, south, zoom + CELL_LEVELS, (from, to, column, row) => {
        const sums = this.sumsOf(from, to);
        const { counts } = sums;
        const sum = counts[0] + counts[1] + counts[2];
        if (!sum) return;
        const radius = this.ringRadius(sum, unit);
        const [x, y] = this.ringCentre(sums, sum, column, row, scale, radius);
        if (sum === 1) this.stamp(ctx, this.firstShown(from), zoom, x - left, y - top, this.radius(zoom) * unit, ratio);
        else paintRing(ctx, x - left, y - top, radius, counts, sum);
      });
    }

    firstShown(from) {
      let i = from;
      while (!this.shown[i]) i += 1;
      return i;
    }

    ringRadius(sum, unit) {
      return Math.min(CELL / 2 - 3, (9 + 4.5 * Math.log10(Math.max(1, sum))) * unit);
    }

    // The middle of its cores, kept inside the square so that rings never overlap.
    ringCentre(sums, sum, column, row, scale, radius) {
      const x = (sums.x / sum) * scale;
      const y = (sums.y / sum) * scale;
      const inset = radius + 2;
      const inside = (v, cell) => Math.max(cell * CELL + inset, Math.min((cell + 1) * CELL - inset, v));
      return [inside(x, column), inside(y, row)];
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

    // The run of cores behind the ring that a point touches, from its first shown core on, or null.
    ringAt(px, py, zoom, unit) {
      const scale = (256 * 2 ** zoom) / WORLD;
      let hit = null;
      this.eachRun(px / scale, py / scale, px / scale, py / scale, zoom + CELL_LEVELS, (from, to, column, row) => {
        const sums = this.sumsOf(from, to);
        const sum = sums.counts[0] + sums.counts[1] + sums.counts[2];
        if (!sum) return;
        const radius = this.ringRadius(sum, unit);
        const [x, y] = this.ringCentre(sums, sum, column, row, scale, radius);
        if (Math.hypot(px - x, py - y) <= radius + 3) hit = { from: this.firstShown(from), to, sum };
      });
      return hit;
    }
  }

  return { Cores };
})();
