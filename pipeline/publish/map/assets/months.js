"use strict";
// A year as twelve small maps: the streets, what was opened in each month, and what was still open at its end.
const KerfbookMonths = (() => {
  const { say, isoOf, locale } = KerfbookWords;
  const { el } = KerfbookElements;
  const { COLOURS, STATUSES } = KerfbookSymbols;
  const { AS_OF, STRAY } = KerfbookDaysOfCores;
  const MONTHS = 12;
  const [WIDTH, HEIGHT, RATIO, EDGE] = [300, 210, 2, 8];
  // More cores than this are drawn pixel by pixel: a path of a million discs takes seconds.
  const MANY = 20000;
  const dayOf = (year, month) => Date.UTC(year, month, 1) / 86400000;

  // The twelve months up to the date of the map, or, where the last core was opened more than a year before it, up to
  // that core; stray dates of a few cores do not count.
  function monthsUpTo(opened) {
    let [last, before] = [-Infinity, 0];
    for (let i = 0; i < opened.length; i += 1) {
      if (!(opened[i] <= AS_OF)) continue;
      before += 1;
      if (opened[i] > last) last = opened[i];
    }
    const isPast = before > STRAY * opened.length && last < AS_OF - 366;
    const end = new Date((isPast ? last : AS_OF) * 86400000);
    return Array.from({ length: MONTHS }, (_none, m) => {
      const month = end.getUTCMonth() - MONTHS + 1 + m;
      const [first, next] = [dayOf(end.getUTCFullYear(), month), dayOf(end.getUTCFullYear(), month + 1)];
      return { first, last: Math.min(next - 1, Math.max(first, AS_OF)) };
    });
  }

  // The box of points; without the outermost hundredth on each side, as a few streets may lie far out.
  function boxOfMost({ x, y }) {
    const [xs, ys] = [Float64Array.from(x).sort(), Float64Array.from(y).sort()];
    const at = (values, share) => values[Math.floor(share * (values.length - 1))] ?? 0;
    return { x: [at(xs, 0.01), at(xs, 0.99)], y: [at(ys, 0.01), at(ys, 0.99)] };
  }

  function boxOfAll({ x, y }) {
    const range = (values) => {
      let [first, last] = [Infinity, -Infinity];
      for (let i = 0; i < values.length; i += 1) {
        if (values[i] < first) first = values[i];
        if (values[i] > last) last = values[i];
      }
      return [first, last];
    };
    return { x: range(x), y: range(y) };
  }

  // A part of the whole with an edge of a tenth, and at least a quarter of the whole across, so that it can be
  // recognised; null where no part lies within: a core whose position is wrong by miles must not make all else small.
  function closer([from, to], [first, last]) {
    const [low, high] = [Math.max(first, from), Math.min(last, to)];
    const half = Math.max((high - low) * 0.6, (to - from) / 8);
    return low > high ? null : [(low + high) / 2 - half, (low + high) / 2 + half];
  }

  class Months {
    constructor(filter, roads, onMonth) { Object.assign(this, { filter, roads, onMonth }); }

    // What is drawn, in the box of a small map: the streets, or without any the cores; with a filter, the cores that
    // match it, with some streets around them.
    scale() {
      const { x: [west, east], y: [north, south] } = this.box();
      const by = Math.min((WIDTH - 2 * EDGE) / Math.max(1, east - west), (HEIGHT - 2 * EDGE) / Math.max(1, south - north));
      return { x: (x) => WIDTH / 2 + (x - (west + east) / 2) * by, y: (y) => HEIGHT / 2 + (y - (north + south) / 2) * by };
    }

    box() {
      const { roads, filter, filter: { cores } } = this;
      const placed = { x: cores.x.subarray(0, cores.count), y: cores.y.subarray(0, cores.count) };
      const drawn = roads.count ? roads : placed;
      if (filter.total < cores.all) {
        const [whole, part] = [boxOfAll(drawn), boxOfAll(this.matching(placed))];
        const [x, y] = [closer(whole.x, part.x), closer(whole.y, part.y)];
        if (x && y) return { x, y };
      }
      return boxOfMost(drawn);
    }

    matching({ x, y }) {
      const { shown } = this.filter;
      return { x: x.filter((_x, i) => shown[i]), y: y.filter((_y, i) => shown[i]) };
    }

    canvas() {
      const made = el("canvas", "");
      [made.width, made.height] = [WIDTH * RATIO, HEIGHT * RATIO];
      const ctx = made.getContext("2d");
      ctx.scale(RATIO, RATIO);
      return { made, ctx };
    }

    streets({ x, y }) {
      const { roads } = this;
      const { made, ctx } = this.canvas();
      ctx.beginPath();
      for (let i = 0; i < roads.count; i += 1) {
        ctx.moveTo(x(roads.x[roads.start[i]]), y(roads.y[roads.start[i]]));
        for (let v = roads.start[i] + 1; v < roads.start[i + 1]; v += 1) ctx.lineTo(x(roads.x[v]), y(roads.y[v]));
      }
      ctx.strokeStyle = COLOURS["road-line"];
      ctx.lineWidth = roads.count > 5000 ? 0.4 : 0.8;
      ctx.stroke();
      return made;
    }

    // Calls use(core, opened in the month, open at its end) for each core that is one of these; returns their counts.
    each({ first, last }, use) {
      const { cores, attributes: { opened, reinstated }, shown } = this.filter;
      const { words, codes } = this.filter.list("out");
      const unknown = words.indexOf("unknown");
      const counts = { opened: 0, open: 0 };
      for (let i = 0; i < cores.all; i += 1) {
        if (!shown[i] || !(opened[i] <= last)) continue;
        const [isNew, isOpen] = [opened[i] >= first, !(reinstated[i] <= last) && codes[i] !== unknown];
        if (!isNew && !isOpen) continue;
        if (isNew) counts.opened += 1;
        if (isOpen) counts.open += 1;
        if (i < cores.count) use(i, isNew, isOpen);
      }
      return counts;
    }

    // Cores still open at the end of a month as squares, those opened in it as discs over them.
    paint(month, scale, streets) {
      const { made, ctx } = this.canvas();
      ctx.drawImage(streets, 0, 0, WIDTH, HEIGHT);
      const counts = this.filter.total > MANY ? this.paintMany(ctx, month, scale) : this.paintFew(ctx, month, scale);
      return { made, counts };
    }

    paintFew(ctx, month, scale) {
      const { cores } = this.filter;
      const size = this.filter.total > 2000 ? 2.6 : 4.4;
      const [discs, squares] = [new Path2D(), new Path2D()];
      const counts = this.each(month, (i, isNew, isOpen) => {
        const [x, y] = [scale.x(cores.x[i]), scale.y(cores.y[i])];
        if (isOpen) squares.rect(x - size / 2, y - size / 2, size, size);
        if (isNew) {
          discs.moveTo(x + size * 0.95, y);
          discs.arc(x, y, size * 0.95, 0, 2 * Math.PI);
        }
      });
      ctx.strokeStyle = STATUSES[0].outline;
      ctx.lineWidth = 1.1;
      ctx.stroke(discs);
      ctx.fillStyle = COLOURS.warning;
      ctx.fill(squares);
      return counts;
    }

    // A dot for each pixel with cores: open ones over those opened.
    paintMany(ctx, month, scale) {
      const { cores } = this.filter;
      const [across, down, side] = [WIDTH * RATIO, HEIGHT * RATIO, 1.6];
      const seen = new Uint8Array(across * down);
      const counts = this.each(month, (i, isNew, isOpen) => {
        const [x, y] = [Math.round(scale.x(cores.x[i]) * RATIO), Math.round(scale.y(cores.y[i]) * RATIO)];
        if (x < 0 || y < 0 || x >= across || y >= down) return;
        seen[y * across + x] |= (isNew ? 1 : 0) + (isOpen ? 2 : 0);
      });
      for (const [bit, colour] of [[1, STATUSES[0].outline], [2, COLOURS.warning]]) {
        ctx.fillStyle = colour;
        for (let at = 0; at < seen.length; at += 1) {
          if (seen[at] & bit) ctx.fillRect((at % across) / RATIO - side / 2, Math.floor(at / across) / RATIO - side / 2, side, side);
        }
      }
      return counts;
    }

    build() {
      const scale = this.scale();
      const streets = this.streets(scale);
      const monthAndYear = new Intl.DateTimeFormat(locale, { timeZone: "UTC", month: "long", year: "numeric" });
      const list = el("ol", "months", ...monthsUpTo(this.filter.attributes.opened).map((month) => {
        const { made, counts } = this.paint(month, scale, streets);
        made.setAttribute("aria-hidden", "true");
        const link = el("a", "", monthAndYear.format(new Date(month.first * 86400000)));
        link.href = `#opened=${isoOf(month.first)}/${isoOf(month.last)}`;
        link.addEventListener("click", (event) => {
          event.preventDefault();
          this.onMonth(month.first, month.last);
        });
        const opened = say("months.opened", { n: counts.opened });
        return el("li", "month", el("h3", "", link), made, el("p", "", el("span", "key-opened", opened), el("span", "key-open", say("months.open", { n: counts.open }))));
      }));
      return list;
    }
  }

  return { Months };
})();
