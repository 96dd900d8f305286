"use strict";
// Draws the road segments on a canvas, and finds the segment under a pointer. Far out a street has the colour of the
// most urgent core on it, and is the wider the more such cores it has; near, where every core has a symbol, streets are
// quiet. A quiet street is as wide as its class.
// A box to paint is in world pixels at a zoom (256 * 2**zoom to the width of the world); its unit is the number of world
// pixels per screen pixel, so that lines keep their width between whole zooms.
const KerfbookRoads = (() => {
  const { COLOURS, LEVELS } = KerfbookSymbols;
  const WORLD = 2 ** 30;
  // Lines near each other are near in the list: their limits are kept per block too, to pass over most blocks at once.
  const BLOCK = 32;
  // Widths in screen pixels at zoom 12, by class, and the share that they grow by per zoom.
  const WIDTHS = [3.6, 2.9, 2.3, 1.5];
  const GROWTH = 1.24;
  const WIDEST = 11;
  // The same by step: one such core, a few, many, most; and the least and the greatest width.
  const STEP_WIDTHS = [1.1, 1.7, 2.7, 4.2];
  const STEP_LEAST = [2.1, 3, 4.2, 6];
  const STEP_MOST = [3, 4.8, 7.2, 10.5];
  // How much wider its casing is.
  const CASINGS = [0.8, 1.1, 1.5, 1.9];
  // Of streets in order, and of those without a core: how much narrower, and the least width in pixels.
  const NARROWER = { 4: 0.66, 5: 0.55 };
  const QUIET_LEAST = { 4: 0.9, 5: 0.6 };
  const LAST_STEP = 3;
  const HAZARD = 0;
  const ORDER = 4;
  const NONE = 5;
  // A line shorter than this many pixels is a dot, and one dot per cell of as many pixels suffices.
  const DOT = 2.5;
  // By step, how much of its cell a dot fills; and one of a quiet street.
  const DOTS = [0.7, 0.85, 1, 1.2];
  const QUIET_DOT = 0.6;
  // Corners nearer than this to the last, in pixels, are left out.
  const FINE = 1.2;
  // A browser without a graphics card takes twice as long over one long path as over short ones, and over round joins
  // that nobody sees in lines narrower than this many pixels.
  const LINES_PER_PATH = 64;
  const NARROW = 5;
  // With more lines than this in a box to paint, ends and corners are drawn plainer: nobody sees them either.
  const CROWD = 1000;
  const FINE_IN_CROWD = 1.8;

  class Roads {
    constructor(bundle) {
      this.bundle = bundle;
      this.x = bundle.ints("x");
      this.y = bundle.ints("y");
      this.rank = bundle.small("rank");
      // As packed for all cores; a filter puts its own in place.
      this.packed = { level: bundle.small("level"), step: bundle.small("step") };
      this.use(this.packed);
      // From how many cores on a street is a step wider.
      this.limits = bundle.header.limits;
      // The zoom from which every core has a symbol.
      this.nearFrom = Infinity;
      const vertices = bundle.ints("vertices");
      this.count = vertices.length;
      this.start = new Int32Array(this.count + 1);
      for (let i = 0; i < this.count; i += 1) this.start[i + 1] = this.start[i] + vertices[i];
      this.findLimits();
    }

    // What each line is coloured by, and its step.
    use({ level, step }) { Object.assign(this, { level, step }); }

    // The limits of every line and block: west, north, east, south.
    findLimits() {
      const { x, y, start, count } = this;
      const lines = new Int32Array(4 * count);
      const blocks = new Int32Array(4 * Math.ceil(count / BLOCK));
      for (let i = 0; i < count; i += 1) {
        let [west, north, east, south] = [WORLD, WORLD, 0, 0];
        for (let v = start[i]; v < start[i + 1]; v += 1) {
          if (x[v] < west) west = x[v];
          if (x[v] > east) east = x[v];
          if (y[v] < north) north = y[v];
          if (y[v] > south) south = y[v];
        }
        const l = 4 * i;
        lines[l] = west;
        lines[l + 1] = north;
        lines[l + 2] = east;
        lines[l + 3] = south;
        const b = 4 * Math.floor(i / BLOCK);
        const isFirst = i % BLOCK === 0;
        blocks[b] = isFirst ? west : Math.min(blocks[b], west);
        blocks[b + 1] = isFirst ? north : Math.min(blocks[b + 1], north);
        blocks[b + 2] = isFirst ? east : Math.max(blocks[b + 2], east);
        blocks[b + 3] = isFirst ? south : Math.max(blocks[b + 3], south);
      }
      Object.assign(this, { lines, blocks });
    }

    // West, north, east, south of a line, in world integers.
    limits(i) { return [...this.lines.subarray(4 * i, 4 * i + 4)]; }

    textOf(name, i) { return this.bundle.text(name, i); }

    // The lines near a box (world integers), each once, in the order of the list.
    within(west, north, east, south) {
      const { lines, blocks, count } = this;
      const touches = (limits, i) => limits[4 * i] <= east && limits[4 * i + 2] >= west && limits[4 * i + 1] <= south && limits[4 * i + 3] >= north;
      const found = [];
      for (let b = 0; 4 * b < blocks.length; b += 1) {
        if (!touches(blocks, b)) continue;
        const end = Math.min(count, (b + 1) * BLOCK);
        for (let i = b * BLOCK; i < end; i += 1) if (touches(lines, i)) found.push(i);
      }
      return found;
    }

    // Half the width of a line on the screen, in pixels: what is written beside it keeps clear of it.
    halfWidth(i, zoom) { return Roads.width(zoom, ...(zoom >= this.nearFrom ? [ORDER, this.rank[i]] : [this.level[i], this.place(i)])) / 2; }

    // What the width of a line shows at its level: its step, or its class where it is quiet.
    place(i) { return this.level[i] < ORDER ? this.step[i] : this.rank[i]; }

    // Whether a line has no colour that tells of something open or wrong.
    isQuiet(i, zoom) { return zoom >= this.nearFrom || this.level[i] >= ORDER; }

    static width(zoom, level, place) {
      const growth = GROWTH ** (zoom - 12);
      if (level < ORDER) return Math.max(STEP_LEAST[place], Math.min(STEP_MOST[place], STEP_WIDTHS[place] * growth));
      return Math.max(QUIET_LEAST[level], NARROWER[level] * Math.min(WIDEST, WIDTHS[place] * growth));
    }

    paint(ctx, { left, top, width, height, zoom, unit }) {
      const scale = (256 * 2 ** zoom) / WORLD;
      const reach = 2 * WIDEST * unit;
      const isNear = zoom >= this.nearFrom;
      const found = this.within((left - reach) / scale, (top - reach) / scale, (left + width + reach) / scale, (top + height + reach) / scale);
      const groups = Array.from({ length: LEVELS.length * WIDTHS.length }, () => []);
      const dots = new Map();
      const dot = DOT * unit;
      for (const i of found) {
        const level = isNear ? NONE : this.level[i];
        const l = 4 * i;
        if (Math.max(this.lines[l + 2] - this.lines[l], this.lines[l + 3] - this.lines[l + 1]) * scale > dot) {
          groups[level * WIDTHS.length + (isNear ? this.rank[i] : this.place(i))].push(i);
          continue;
        }
        const cell = Math.floor((this.lines[l] * scale - left) / dot) + 4096 * Math.floor((this.lines[l + 1] * scale - top) / dot);
        const [before, own] = [dots.get(cell), level * WIDTHS.length + (level < ORDER ? LAST_STEP - this.step[i] : 0)];
        if (before === undefined || own < before) dots.set(cell, own);
      }
      const isCrowded = found.length > CROWD;
      ctx.lineCap = isCrowded ? "square" : "round";
      const trace = (lines) => this.trace(lines, { left, top, scale, fine: (isCrowded ? FINE_IN_CROWD : FINE) * unit });
      Roads.paintDots(ctx, dots, dot);
      // The least urgent first, so that what is urgent lies on top; the widest on top of its level.
      for (let level = LEVELS.length - 1; level >= 0; level -= 1) {
        const own = groups.slice(level * WIDTHS.length, (level + 1) * WIDTHS.length);
        Roads.strokeLevel(ctx, own, { level, zoom, unit, isNear, isCrowded, trace });
      }
    }

    // All casings of a level lie below all of its lines, so that crossings are open.
    static strokeLevel(ctx, groups, { level, zoom, unit, isNear, isCrowded, trace }) {
      const paths = groups.map((lines) => {
        const pieces = [];
        for (let from = 0; from < lines.length; from += LINES_PER_PATH) pieces.push(trace(lines.slice(from, from + LINES_PER_PATH)));
        return pieces;
      });
      const drawn = isNear ? ORDER : level;
      const isQuiet = drawn >= ORDER;
      // Classes are in the order of their importance, steps in that of their width.
      const order = isQuiet ? [3, 2, 1, 0] : [0, 1, 2, 3];
      // One core, or few: a thinner casing makes them lighter too.
      const extraOf = (extra, place) => (isQuiet || !extra ? extra : CASINGS[place]);
      const stroke = (colour, extra) => {
        ctx.strokeStyle = colour;
        for (const place of order) {
          const width = Roads.width(zoom, drawn, place) + extraOf(extra, place);
          ctx.lineWidth = width * unit;
          ctx.lineJoin = isCrowded || width < NARROW ? "bevel" : "round";
          paths[place].forEach((path) => ctx.stroke(path));
        }
      };
      if (isNear) stroke(COLOURS["road-line"], zoom < 15 ? 0.6 : 1.6);
      else if (!isQuiet || zoom >= 14) stroke(isQuiet ? COLOURS["casing-quiet"] : COLOURS.casing, isQuiet ? 1.6 : 1.4);
      stroke(isNear ? COLOURS[zoom < 15 ? "road-line" : "paper"] : COLOURS[`street-${LEVELS[level]}`], 0);
      if (level !== HAZARD || isNear) return;
      ctx.save();
      ctx.lineCap = "butt";
      ctx.setLineDash([3.5 * unit, 4.5 * unit]);
      ctx.strokeStyle = COLOURS["street-open"];
      paths.forEach((pieces, place) => {
        ctx.lineWidth = 0.5 * Roads.width(zoom, level, place) * unit;
        pieces.forEach((path) => ctx.stroke(path));
      });
      ctx.restore();
    }

    static paintDots(ctx, dots, dot) {
      const cells = Array.from({ length: LEVELS.length * WIDTHS.length }, () => []);
      dots.forEach((own, cell) => cells[own].push(cell));
      for (let own = cells.length - 1; own >= 0; own -= 1) {
        const level = Math.floor(own / WIDTHS.length);
        ctx.fillStyle = COLOURS[`street-${LEVELS[level]}`];
        const side = dot * (level < ORDER ? DOTS[LAST_STEP - (own % WIDTHS.length)] : QUIET_DOT);
        for (const cell of cells[own]) ctx.fillRect((cell % 4096) * dot, Math.floor(cell / 4096) * dot, side, side);
      }
    }

    trace(lines, { left, top, scale, fine }) {
      const path = new Path2D();
      const { x, y, start } = this;
      for (const i of lines) {
        let [px, py] = [x[start[i]] * scale - left, y[start[i]] * scale - top];
        path.moveTo(px, py);
        const last = start[i + 1] - 1;
        for (let v = start[i] + 1; v <= last; v += 1) {
          const [nx, ny] = [x[v] * scale - left, y[v] * scale - top];
          if (v < last && Math.abs(nx - px) + Math.abs(ny - py) < fine) continue;
          path.lineTo(nx, ny);
          [px, py] = [nx, ny];
        }
      }
      return path;
    }

    // The segment within reach pixels of a point, or -1.
    nearest(px, py, zoom, reach) {
      const scale = (256 * 2 ** zoom) / WORLD;
      const [x, y, r] = [px / scale, py / scale, reach / scale];
      let [closest, least] = [-1, r];
      for (const i of this.within(x - r, y - r, x + r, y + r)) {
        for (let v = this.start[i] + 1; v < this.start[i + 1]; v += 1) {
          const [dx, dy] = [this.x[v] - this.x[v - 1], this.y[v] - this.y[v - 1]];
          const along = ((x - this.x[v - 1]) * dx + (y - this.y[v - 1]) * dy) / (dx * dx + dy * dy || 1);
          const t = Math.max(0, Math.min(1, along));
          const distance = Math.hypot(x - this.x[v - 1] - t * dx, y - this.y[v - 1] - t * dy);
          if (distance < least) [closest, least] = [i, distance];
        }
      }
      return closest;
    }

    lineOf(i) {
      const line = [];
      for (let v = this.start[i]; v < this.start[i + 1]; v += 1) line.push([this.x[v], this.y[v]]);
      return line;
    }

    // The segments of a street, each as a list of [x, y] in world integers.
    linesOfStreet(street) {
      const lines = [];
      for (let i = 0; i < this.count; i += 1) if (this.textOf("street", i) === street) lines.push(this.lineOf(i));
      return lines;
    }
  }

  // The width of a main road, or of the widest coloured street if that is more.
  const widest = (zoom) => Math.max(Roads.width(zoom, ORDER, 0), Roads.width(zoom, HAZARD, LAST_STEP));

  return { Roads, widest };
})();
