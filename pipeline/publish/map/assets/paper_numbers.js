"use strict";
// The numbers beside the symbols of a sheet: each near its symbol, none over another or over a symbol.
const KerfbookPaperNumbers = (() => {
  const { INK, HALO, FONT } = KerfbookSymbols;
  const { say } = KerfbookWords;
  const SIZE = 9;
  const GAP = 1.5;
  // Cores of consecutive numbers that are this many radii apart share a label, such as 3–5.
  const JOINED = 1.5;
  // Labels without room are joined to their neighbour up to this many pixels away.
  const NEIGHBOUR = 40;
  // How far from the symbol a number is still read as its own.
  const DISTANCES = [0, 4];

  const touches = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
  const apart = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);

  // Boxes by squares of the canvas: each is only compared with those near it.
  class Taken {
    constructor() { this.cells = new Map(); }

    each(box, use) {
      for (let column = Math.floor(box.left / 40); column <= Math.floor(box.right / 40); column += 1) {
        for (let row = Math.floor(box.top / 40); row <= Math.floor(box.bottom / 40); row += 1) use(`${column} ${row}`);
      }
    }

    add(box) {
      this.each(box, (key) => {
        if (!this.cells.has(key)) this.cells.set(key, new Set());
        this.cells.get(key).add(box);
      });
    }

    remove(box) { this.each(box, (key) => this.cells.get(key).delete(box)); }

    isFree(box) {
      let isFree = true;
      this.each(box, (key) => {
        for (const other of this.cells.get(key) || []) if (touches(box, other)) isFree = false;
      });
      return isFree;
    }
  }

  // Where a text of a width may lie around a spot: right, left, above and below, then the corners.
  function around([x, y], width, reach) {
    const [w, h] = [width / 2, SIZE / 2];
    const slant = reach * 0.75;
    return [
      [x + reach + w, y], [x - reach - w, y], [x, y - reach - h], [x, y + reach + h],
      [x + slant + w, y - slant - h], [x - slant - w, y - slant - h], [x + slant + w, y + slant + h], [x - slant - w, y + slant + h],
    ].map(([cx, cy]) => ({ left: cx - w - 1, right: cx + w + 1, top: cy - h, bottom: cy + h, x: cx, y: cy }));
  }

  const textOf = ({ first, last }) => (first === last ? String(first) : say("paper.range", { first: String(first), last: String(last) }));

  // Spots in the order of their numbers, null for a core that is not on the map; badges are boxes beside some of them. Returns
  // the labels ({ text, x, y, first, last }) and the numbers that found no room.
  function place(spots, radius, { width, height }, measure, badges = []) {
    const taken = new Taken();
    badges.forEach((box) => taken.add(box));
    spots.forEach((spot) => { if (spot) taken.add({ left: spot[0] - radius, right: spot[0] + radius, top: spot[1] - radius, bottom: spot[1] + radius }); });
    const labels = [];
    const without = [];
    const put = (group) => {
      const text = textOf(group);
      const wide = measure(text);
      const anchors = [...new Set([group.spots[0], group.spots[group.spots.length - 1], group.spots[group.spots.length >> 1]])];
      for (const distance of DISTANCES) {
        for (const anchor of anchors) {
          const free = around(anchor, wide, radius + GAP + distance)
            .find((box) => box.left >= 0 && box.top >= 0 && box.right <= width && box.bottom <= height && taken.isFree(box));
          if (!free) continue;
          taken.add(free);
          labels.push({ ...group, text, x: free.x, y: free.y, box: free });
          return true;
        }
      }
      return false;
    };
    for (const group of groups(spots, radius * JOINED)) {
      if (put(group)) continue;
      const before = labels[labels.length - 1];
      const isNext = before && before.last === group.first - 1 && apart(before.spots[before.spots.length - 1], group.spots[0]) < NEIGHBOUR;
      if (isNext) {
        labels.pop();
        taken.remove(before.box);
        if (put({ first: before.first, last: group.last, spots: [...before.spots, ...group.spots] })) continue;
        taken.add(before.box);
        labels.push(before);
      }
      for (let n = group.first; n <= group.last; n += 1) without.push(n);
    }
    return { labels, without };
  }

  // Runs of consecutive numbers whose spots nearly touch.
  function groups(spots, reach) {
    const found = [];
    spots.forEach((spot, s) => {
      if (!spot) return;
      const last = found[found.length - 1];
      if (last && last.last === s && apart(last.spots[last.spots.length - 1], spot) < reach) {
        last.last = s + 1;
        last.spots.push(spot);
      } else found.push({ first: s + 1, last: s + 1, spots: [spot] });
    });
    return found;
  }

  // Paints the numbers 1 to n beside the spots; returns the labels, and the numbers that found no room.
  function paint(ctx, spots, radius, frame, badges) {
    ctx.font = `700 ${SIZE}px ${FONT}`;
    ctx.textAlign = "center";
    ctx.textBaseline = "middle";
    ctx.lineJoin = "round";
    ctx.strokeStyle = HALO;
    ctx.lineWidth = 2.6;
    ctx.fillStyle = INK;
    const { labels, without } = place(spots, radius, frame, (text) => ctx.measureText(text).width, badges);
    labels.forEach(({ text, x, y }) => {
      ctx.strokeText(text, x, y + 0.5);
      ctx.fillText(text, x, y + 0.5);
    });
    return { labels, without };
  }

  return { place, paint };
})();
