"use strict";
// Draws the road segments on a canvas, and finds the segment under a pointer.
// A box to paint is in world pixels at a zoom (256 * 2**zoom to the width of the world); its unit is the number of world
// pixels per screen pixel, so that lines and letters keep their size between whole zooms.
const KerfbookRoads = (() => {
  const { COLOURS, FONT } = KerfbookSymbols;
  const WORLD = 2 ** 30;
  // 2**14 of 2**30 is about 600 m at the equator: a few streets per cell.
  const CELL_BITS = 14;
  // A line over more cells than this is looked at every time instead of being entered in each cell.
  const MOST_CELLS = 64;
  const NAMES_FROM_ZOOM = 16;
  // With more lines than this per tile, the main roads alone are drawn.
  const MOST_LINES = 20000;
  const NAME_REACH = 140;
  const NAME_LIMIT = 40;
  const NAME_AWAY = 11;
  // Pixels beside the line, since the cores lie on it.
  const NAME_FONT = `500 11px ${FONT}`;

  class Roads {
    constructor(bundle) {
      this.bundle = bundle;
      this.x = bundle.ints("x");
      this.y = bundle.ints("y");
      this.main = bundle.ints("main");
      const vertices = bundle.ints("vertices");
      this.count = vertices.length;
      this.start = new Int32Array(this.count + 1);
      for (let i = 0; i < this.count; i += 1) this.start[i + 1] = this.start[i] + vertices[i];
      this.seen = new Int32Array(this.count);
      this.query = 0;
      this.cells = new Map();
      this.long = [];
      for (let i = 0; i < this.count; i += 1) this.enter(i);
      this.widths = new Map();
      this.mainCount = this.main.reduce((sum, one) => sum + one, 0);
    }

    textOf(name, i) { return this.bundle.text(name, i); }

    limits(i) {
      let [west, north, east, south] = [Infinity, Infinity, -Infinity, -Infinity];
      for (let v = this.start[i]; v < this.start[i + 1]; v += 1) {
        west = Math.min(west, this.x[v]);
        east = Math.max(east, this.x[v]);
        north = Math.min(north, this.y[v]);
        south = Math.max(south, this.y[v]);
      }
      return [west, north, east, south];
    }

    enter(i) {
      const [west, north, east, south] = this.limits(i).map((v) => v >> CELL_BITS);
      if ((east - west + 1) * (south - north + 1) > MOST_CELLS) {
        this.long.push(i);
        return;
      }
      for (let column = west; column <= east; column += 1) {
        for (let row = north; row <= south; row += 1) {
          const key = column * 65536 + row;
          const cell = this.cells.get(key);
          if (cell) cell.push(i);
          else this.cells.set(key, [i]);
        }
      }
    }

    // The lines near a box (world integers), each once.
    within(west, north, east, south) {
      this.query += 1;
      const found = [];
      const take = (i) => {
        if (this.seen[i] === this.query) return;
        this.seen[i] = this.query;
        found.push(i);
      };
      this.long.forEach(take);
      const columns = [west, east].map((v) => Math.floor(v / 2 ** CELL_BITS));
      const rows = [north, south].map((v) => Math.floor(v / 2 ** CELL_BITS));
      if ((columns[1] - columns[0] + 1) * (rows[1] - rows[0] + 1) > this.cells.size) {
        for (const cell of this.cells.values()) cell.forEach(take);
        return found;
      }
      for (let column = columns[0]; column <= columns[1]; column += 1) {
        for (let row = rows[0]; row <= rows[1]; row += 1) {
          const cell = this.cells.get(column * 65536 + row);
          if (cell) cell.forEach(take);
        }
      }
      return found;
    }

    paint(ctx, { left, top, width, height, zoom, unit }) {
      const scale = (256 * 2 ** zoom) / WORLD;
      const reach = (zoom >= NAMES_FROM_ZOOM ? NAME_REACH : 8) * unit;
      const lines = this.within((left - reach) / scale, (top - reach) / scale, (left + width + reach) / scale, (top + height + reach) / scale);
      // Far out, this many lines are a grey blur: the main roads alone show the shape of the town.
      const mainOnly = lines.length > MOST_LINES && this.mainCount > 0 && zoom < NAMES_FROM_ZOOM;
      ctx.beginPath();
      for (const i of lines) {
        if (mainOnly && !this.main[i]) continue;
        ctx.moveTo(this.x[this.start[i]] * scale - left, this.y[this.start[i]] * scale - top);
        for (let v = this.start[i] + 1; v < this.start[i + 1]; v += 1) ctx.lineTo(this.x[v] * scale - left, this.y[v] * scale - top);
      }
      ctx.lineCap = "round";
      ctx.lineJoin = "round";
      ctx.strokeStyle = COLOURS["road-line"];
      ctx.lineWidth = unit * (zoom < 13 ? 0.9 : zoom < 15 ? 1.4 : zoom < 17 ? 2 : 3);
      ctx.stroke();
      if (zoom >= NAMES_FROM_ZOOM) for (const i of lines) this.paintName(ctx, i, left, top, scale, unit);
    }

    // The street's name along the middle of a segment that is long and straight enough for it.
    paintName(ctx, i, left, top, scale, unit) {
      const street = this.textOf("street", i);
      if (!street) return;
      const text = street.length > NAME_LIMIT ? `${street.slice(0, NAME_LIMIT)}…` : street;
      if (!this.widths.has(text)) {
        ctx.font = NAME_FONT;
        this.widths.set(text, ctx.measureText(text).width);
      }
      const needed = this.widths.get(text) * unit;
      const length = this.lengthOf(i) * scale;
      if (length < needed + 30 * unit || needed > (2 * NAME_REACH - 20) * unit) return;
      const a = this.pointAlong(i, (length - needed) / 2 / scale);
      const b = this.pointAlong(i, (length + needed) / 2 / scale);
      if (Math.hypot(b[0] - a[0], b[1] - a[1]) * scale < needed * 0.96) return;
      let angle = Math.atan2(b[1] - a[1], b[0] - a[0]);
      if (angle > Math.PI / 2 || angle <= -Math.PI / 2) angle += Math.PI;
      ctx.save();
      ctx.translate(((a[0] + b[0]) / 2) * scale - left, ((a[1] + b[1]) / 2) * scale - top);
      ctx.rotate(angle);
      ctx.scale(unit, unit);
      ctx.font = NAME_FONT;
      ctx.textAlign = "center";
      ctx.textBaseline = "alphabetic";
      ctx.lineJoin = "round";
      ctx.lineWidth = 3;
      ctx.strokeStyle = COLOURS.ground;
      ctx.fillStyle = COLOURS["street-name"];
      ctx.strokeText(text, 0, -NAME_AWAY);
      ctx.fillText(text, 0, -NAME_AWAY);
      ctx.restore();
    }

    lengthOf(i) {
      let length = 0;
      for (let v = this.start[i] + 1; v < this.start[i + 1]; v += 1) length += Math.hypot(this.x[v] - this.x[v - 1], this.y[v] - this.y[v - 1]);
      return length;
    }

    pointAlong(i, distance) {
      let left = distance;
      for (let v = this.start[i] + 1; v < this.start[i + 1]; v += 1) {
        const step = Math.hypot(this.x[v] - this.x[v - 1], this.y[v] - this.y[v - 1]);
        if (step > 0 && left <= step) {
          const share = left / step;
          return [this.x[v - 1] + share * (this.x[v] - this.x[v - 1]), this.y[v - 1] + share * (this.y[v] - this.y[v - 1])];
        }
        left -= step;
      }
      const last = this.start[i + 1] - 1;
      return [this.x[last], this.y[last]];
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

    // The segments of a street, each as a list of [x, y] in world integers.
    linesOfStreet(street) {
      const lines = [];
      for (let i = 0; i < this.count; i += 1) {
        if (this.textOf("street", i) !== street) continue;
        const line = [];
        for (let v = this.start[i]; v < this.start[i + 1]; v += 1) line.push([this.x[v], this.y[v]]);
        lines.push(line);
      }
      return lines;
    }
  }

  return { Roads };
})();
