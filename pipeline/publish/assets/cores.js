"use strict";
// Drawing of the cores on any canvas, and the finding of those under a pointer.
// They stand in Morton order: a square of the world's quadtree is one run of them, found by binary search.
const KerfbookCores = (() => {
  const { say, short } = KerfbookWords;
  const { STATUSES, OUTLINE, HALO, HOLLOW } = KerfbookDom;
  const WORLD = 2 ** 30;
  // 26 bits of each coordinate (0.6 m) make a key that a double holds exactly.
  const DEPTH = 26;
  // The world is 256 pixels wide at zoom 0, so squares of 64 pixels are two levels below the zoom's own.
  const CELL_LEVELS = 2;
  const CELL = 64;
  // One symbol a core is readable up to about this many in 512 x 512 pixels.
  const CROWD = 600;
  const LAST_RING_ZOOM = 17;

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
      // The placed stand first; the status goes on over those without a place.
      this.status = new Uint8Array(bundle.ints("status"));
      this.unsure = new Uint8Array(bundle.ints("unsure"));
      this.count = this.x.length;
      this.all = this.status.length;
      this.total = STATUSES.map(() => new Uint32Array(this.count + 1));
      this.sumX = new Float64Array(this.count + 1);
      this.sumY = new Float64Array(this.count + 1);
      this.show(new Uint8Array(this.all).fill(1));
      this.symbolZoom = this.findSymbolZoom();
      this.sprites = new Map();
    }

    // Where core i stands in the order; worked out when asked, which a binary search does twenty times in a million.
    key(i) { return keyOf(this.x[i] >>> 4, this.y[i] >>> 4); }

    // Which cores are drawn and found: one byte each, 1 for yes.
    show(shown) {
      this.shown = shown;
      const { x, y, status, count, sumX, sumY, total } = this;
      const [red, yellow, green] = total;
      let [r, g, b, left, top] = [0, 0, 0, 0, 0];
      for (let i = 0; i < count; i += 1) {
        if (shown[i]) {
          if (status[i] === 0) r += 1;
          else if (status[i] === 1) g += 1;
          else b += 1;
          left += x[i];
          top += y[i];
        }
        red[i + 1] = r;
        yellow[i + 1] = g;
        green[i + 1] = b;
        sumX[i + 1] = left;
        sumY[i + 1] = top;
      }
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

    // Calls use(from, to, column, row) for every square of a level that a box (world integers) touches and that holds cores.
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

    // How many shown cores of each status lie in a box, without looking at those of the squares wholly inside it.
    countInBox(left, top, right, bottom, zoom) {
      const scale = (256 * 2 ** zoom) / WORLD;
      const [west, north, east, south] = [left, top, right, bottom].map((v) => v / scale);
      const level = Math.floor(zoom) + CELL_LEVELS;
      const size = 2 ** (30 - level);
      const counts = [0, 0, 0];
      this.eachRun(west, north, east, south, level, (from, to, column, row) => {
        if (column * size >= west && (column + 1) * size <= east && row * size >= north && (row + 1) * size <= south) {
          this.countsOf(from, to).forEach((count, s) => { counts[s] += count; });
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

    // The box as for the roads; ratio is the canvas's own pixels to one of the box.
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
      // What needs attention lies on top.
      for (const s of [2, 1, 0]) {
        for (const i of groups[s]) this.stamp(ctx, s, this.unsure[i], this.x[i] * scale - left, this.y[i] * scale - top, radius, ratio);
      }
    }

    stamp(ctx, status, isHollow, x, y, radius, ratio) {
      const sprite = this.sprite(status, isHollow, radius, ratio);
      const half = sprite.width / 2;
      // Whole device pixels keep the outline sharp.
      ctx.drawImage(sprite, Math.round(x * ratio - half) / ratio, Math.round(y * ratio - half) / ratio, sprite.width / ratio, sprite.height / ratio);
    }

    sprite(status, isHollow, radius, ratio) {
      const name = `${status} ${isHollow} ${radius} ${ratio}`;
      if (!this.sprites.has(name)) {
        const canvas = document.createElement("canvas");
        canvas.width = canvas.height = 2 * Math.ceil((radius * 1.45 + 2) * ratio);
        const ctx = canvas.getContext("2d");
        ctx.translate(canvas.width / 2, canvas.height / 2);
        ctx.scale((radius / 8) * ratio, (radius / 8) * ratio);
        const shape = new Path2D(STATUSES[status].path);
        ctx.lineJoin = "round";
        ctx.strokeStyle = HALO;
        ctx.lineWidth = 4.6;
        ctx.stroke(shape);
        ctx.fillStyle = STATUSES[status].colour;
        ctx.fill(shape);
        ctx.strokeStyle = OUTLINE;
        ctx.lineWidth = 1.7;
        ctx.stroke(shape);
        if (isHollow) {
          ctx.scale(HOLLOW, HOLLOW);
          ctx.fillStyle = HALO;
          ctx.fill(shape);
          ctx.lineWidth = 2.2;
          ctx.stroke(shape);
        }
        this.sprites.set(name, canvas);
      }
      return this.sprites.get(name);
    }

    countsOf(from, to) {
      return this.total.map((t) => t[to] - t[from]);
    }

    // Far out, one ring for every 64 x 64 pixels: its parts by status, the number inside.
    paintRings(ctx, { left, top, width, height, zoom, ratio, unit }) {
      const scale = (256 * 2 ** zoom) / WORLD;
      const [west, north] = [(left - CELL) / scale, (top - CELL) / scale];
      const [east, south] = [(left + width + CELL) / scale, (top + height + CELL) / scale];
      this.eachRun(west, north, east, south, zoom + CELL_LEVELS, (from, to, column, row) => {
        const counts = this.countsOf(from, to);
        const sum = counts[0] + counts[1] + counts[2];
        if (!sum) return;
        const radius = this.ringRadius(sum, unit);
        const [x, y] = this.ringCentre(from, to, sum, column, row, scale, radius);
        if (sum === 1) this.stamp(ctx, counts.indexOf(1), this.unsure[this.firstShown(from)], x - left, y - top, this.radius(zoom) * unit, ratio);
        else this.paintRing(ctx, x - left, y - top, radius, counts, sum);
      });
    }

    firstShown(from) {
      let i = from;
      while (!this.shown[i]) i += 1;
      return i;
    }

    // The middle of its cores, held inside the square so that rings never overlap.
    ringRadius(sum, unit) {
      return Math.min(CELL / 2 - 3, (9 + 4.5 * Math.log10(Math.max(1, sum))) * unit);
    }

    ringCentre(from, to, sum, column, row, scale, radius) {
      const x = ((this.sumX[to] - this.sumX[from]) / sum) * scale;
      const y = ((this.sumY[to] - this.sumY[from]) / sum) * scale;
      const inset = radius + 2;
      const held = (v, cell) => Math.max(cell * CELL + inset, Math.min((cell + 1) * CELL - inset, v));
      return [held(x, column), held(y, row)];
    }

    paintRing(ctx, x, y, radius, counts, sum) {
      const disc = (r, colour) => {
        ctx.beginPath();
        ctx.arc(x, y, r, 0, 2 * Math.PI);
        ctx.fillStyle = colour;
        ctx.fill();
      };
      disc(radius + 2.2, HALO);
      disc(radius + 0.8, OUTLINE);
      let angle = -Math.PI / 2;
      counts.forEach((count, s) => {
        if (!count) return;
        const end = angle + (count / sum) * 2 * Math.PI;
        ctx.beginPath();
        ctx.moveTo(x, y);
        ctx.arc(x, y, radius, angle, end);
        ctx.fillStyle = STATUSES[s].colour;
        ctx.fill();
        angle = end;
      });
      disc(radius * 0.62 + 0.8, OUTLINE);
      disc(radius * 0.62, HALO);
      ctx.fillStyle = OUTLINE;
      const said = sum < 1000 ? short(sum) : say("view.thousands", { n: sum < 9950 ? Math.round(sum / 100) / 10 : Math.round(sum / 1000) });
      // Inside the ring, whatever its length.
      const size = radius * (said.length < 3 ? 0.64 : said.length < 4 ? 0.54 : 0.46);
      ctx.font = `600 ${size}px system-ui, 'Segoe UI', Roboto, Arial, sans-serif`;
      ctx.textAlign = "center";
      ctx.textBaseline = "middle";
      ctx.fillText(said, x, y + 0.5);
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

    // The run of cores behind the ring that a point touches, or null.
    ringAt(px, py, zoom, unit) {
      const scale = (256 * 2 ** zoom) / WORLD;
      let hit = null;
      this.eachRun(px / scale, py / scale, px / scale, py / scale, zoom + CELL_LEVELS, (from, to, column, row) => {
        const counts = this.countsOf(from, to);
        const sum = counts[0] + counts[1] + counts[2];
        if (!sum) return;
        const radius = this.ringRadius(sum, unit);
        const [x, y] = this.ringCentre(from, to, sum, column, row, scale, radius);
        if (Math.hypot(px - x, py - y) <= radius + 3) hit = [this.firstShown(from), to, sum];
      });
      return hit;
    }
  }

  return { Cores };
})();
