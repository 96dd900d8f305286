"use strict";
// Places and draws letters: along a line on the screen, or level; never over what is taken. All lengths are in pixels
// of the screen.
const KerfbookLettering = (() => {
  const { COLOURS, FONT } = KerfbookSymbols;
  const CELL = 24;
  // Letters are covered by circles this far apart and of this radius.
  const STEP = 5;
  const RADIUS = 5.2;
  // How much a line may turn from one circle to the next, and in all, in radians.
  const MOST_BEND = 0.34;
  const MOST_TURN = 1.5;
  // A name whose middle line is this straight is written in one piece.
  const STRAIGHT = 1.2;
  // Places tried along a stretch.
  const TRIES = 31;
  // The share of its length by which a name may go beyond either end of a short street.
  const MOST_OVER = 0.3;
  // The size of letters, in pixels, that a circle of the full radius covers.
  const FULL_SIZE = 11.5;
  const sizeOf = (font) => Number.parseFloat(font.split(" ").at(-1));
  // Between the middles of two lines of a name.
  const LEADING = 15;
  // Letters that may be set one by one without harm to how they join.
  const SIMPLE = /^[\p{Script=Latin}\p{Script=Greek}\p{Script=Cyrillic}\p{N}\p{P}\p{Zs}\p{S}]*$/u;
  const NAME_LIMIT = 40;
  const widths = new Map();
  const measuring = document.createElement("canvas").getContext("2d");

  const shortened = (name) => (name.length > NAME_LIMIT ? `${name.slice(0, NAME_LIMIT)}…` : name);

  function widthOf(text, font) {
    const key = `${font} ${text}`;
    if (!widths.has(key)) {
      measuring.font = `${font} ${FONT}`;
      widths.set(key, measuring.measureText(text).width);
    }
    return widths.get(key);
  }

  // What is taken, as circles in cells.
  class Taken {
    constructor() { this.cells = new Map(); }

    // Names stay inside a box of this size.
    keepInside(width, height) { Object.assign(this, { width, height }); }

    add(x, y, r) {
      const key = Math.floor(x / CELL) * 65536 + Math.floor(y / CELL);
      if (this.cells.has(key)) this.cells.get(key).push([x, y, r]);
      else this.cells.set(key, [[x, y, r]]);
    }

    isFree(x, y, r) {
      if (x < r || y < r || x > this.width - r || y > this.height - r) return false;
      const [column, row] = [Math.floor(x / CELL), Math.floor(y / CELL)];
      for (let c = column - 1; c <= column + 1; c += 1) {
        for (let w = row - 1; w <= row + 1; w += 1) {
          const cell = this.cells.get(c * 65536 + w);
          if (cell && cell.some(([ox, oy, or]) => Math.hypot(ox - x, oy - y) < or + r)) return false;
        }
      }
      return true;
    }
  }

  // The parts of a line inside a box of this width and height, each as points; cut where it crosses the edge.
  function clip(points, width, height, inset) {
    const runs = [];
    let run = [];
    const finish = () => {
      if (run.length > 1) runs.push(run);
      run = [];
    };
    for (let p = 1; p < points.length; p += 1) {
      const [ax, ay] = points[p - 1];
      const [dx, dy] = [points[p][0] - ax, points[p][1] - ay];
      let [from, to] = [0, 1];
      for (const [step, room] of [[-dx, ax - inset], [dx, width - inset - ax], [-dy, ay - inset], [dy, height - inset - ay]]) {
        if (step === 0 && room < 0) to = -1;
        else if (step < 0) from = Math.max(from, room / step);
        else if (step > 0) to = Math.min(to, room / step);
      }
      if (from >= to) {
        finish();
        continue;
      }
      if (!run.length || from > 0) {
        finish();
        run.push([ax + from * dx, ay + from * dy]);
      }
      run.push([ax + to * dx, ay + to * dy]);
      if (to < 1) finish();
    }
    finish();
    return runs;
  }

  // A run with its length up to each point, so that a point along it is found quickly.
  class Stretch {
    constructor(points) {
      this.points = points;
      this.upTo = [0];
      for (let p = 1; p < points.length; p += 1) this.upTo.push(this.upTo[p - 1] + Math.hypot(points[p][0] - points[p - 1][0], points[p][1] - points[p - 1][1]));
      this.length = this.upTo[points.length - 1];
    }

    // [x, y, direction in radians] at a distance from the start.
    at(distance) {
      let p = 1;
      while (p < this.points.length - 1 && this.upTo[p] < distance) p += 1;
      const [[ax, ay], [bx, by]] = [this.points[p - 1], this.points[p]];
      const share = (distance - this.upTo[p - 1]) / (this.upTo[p] - this.upTo[p - 1] || 1);
      return [ax + share * (bx - ax), ay + share * (by - ay), Math.atan2(by - ay, bx - ax)];
    }
  }

  const turned = (one, other) => Math.abs(((other - one + 3 * Math.PI) % (2 * Math.PI)) - Math.PI);

  // The points below the middle of the letters, from a place along a stretch, beside it by an offset; null where the
  // stretch bends too much. Read from left to right.
  function pointsAlong(stretch, from, width, offset) {
    const [a, b] = [stretch.at(from), stretch.at(from + width)];
    const isBackward = b[0] < a[0];
    const count = Math.max(2, Math.ceil(width / STEP) + 1);
    const points = [];
    let turn = 0;
    for (let n = 0; n < count; n += 1) {
      const along = (n / (count - 1)) * width;
      const [x, y, direction] = stretch.at(isBackward ? from + width - along : from + along);
      const way = isBackward ? direction + Math.PI : direction;
      if (n) {
        const bend = turned(points[n - 1][2], way);
        turn += bend;
        if (bend > MOST_BEND || turn > MOST_TURN) return null;
      }
      points.push([x + offset * Math.sin(way), y - offset * Math.cos(way), way]);
    }
    return points;
  }

  // A place for a text along the longest stretches of some lines, or null. Offsets are tried in turn at each place.
  function placeAlong(text, { runs, font, offsets, taken }) {
    const width = widthOf(text, font) + 2;
    const radius = RADIUS * (sizeOf(font) / FULL_SIZE);
    for (const stretch of runs) {
      const spare = stretch.length - width - 6;
      const over = Math.min(MOST_OVER * width, stretch.length / 2);
      if (spare + 2 * over < 0) return null;
      const reach = Math.max(spare / 2, 0) + over;
      for (let t = 0; t < TRIES; t += 1) {
        // From the middle outwards, to either side by turns.
        const shift = (Math.ceil(t / 2) / ((TRIES - 1) / 2)) * (t % 2 ? 1 : -1) * reach;
        for (const offset of offsets) {
          const points = pointsAlong(stretch, 3 + spare / 2 + shift, width, offset);
          if (points && points.every(([x, y]) => taken.isFree(x, y, radius))) {
            points.forEach(([x, y]) => taken.add(x, y, radius));
            return { text, font, points, width };
          }
        }
      }
    }
    return null;
  }

  // The ways to set a name, the best first: in one line, in two, and both smaller.
  function settings(text, fonts) {
    const words = text.split(" ");
    const half = words.findIndex((_word, w) => words.slice(0, w + 1).join(" ").length >= text.length / 2);
    const [first, second] = [words.slice(0, Math.max(1, half)).join(" "), words.slice(Math.max(1, half)).join(" ")];
    const ways = second ? [[text], [first, second]] : [[text]];
    return fonts.flatMap((font) => ways.map((lines) => ({ font, lines })));
  }

  // A level text around the first of some spots that is free and inside a box, or null; its fonts in the order to try.
  function placeLevel(text, { spots, fonts, taken, width, height }) {
    for (const { font, lines } of settings(text, fonts)) {
      const halves = lines.map((line) => widthOf(line, font) / 2);
      const [half, high] = [Math.max(...halves), (lines.length - 1) * (LEADING / 2)];
      for (const [x, y] of spots) {
        if (x - half < 2 || x + half > width - 2 || y - high < 8 || y + high > height - 8) continue;
        const points = lines.flatMap((_line, l) => levelPoints(x, y - high + l * LEADING, halves[l]));
        if (!points.every(([px, py]) => taken.isFree(px, py, RADIUS + 1.5))) continue;
        points.forEach(([px, py]) => taken.add(px, py, RADIUS + 3));
        return { text, font, points, width: 2 * half, lines: lines.map((line, l) => [line, [x, y - high + l * LEADING, 0]]) };
      }
    }
    return null;
  }

  function levelPoints(x, y, half) {
    const points = [];
    for (let along = -half; along <= half + STEP; along += STEP) points.push([x + Math.min(along, half), y, 0]);
    return points;
  }

  function isStraight(points) {
    const [[ax, ay], [bx, by]] = [points[0], points[points.length - 1]];
    const length = Math.hypot(bx - ax, by - ay) || 1;
    return points.every(([x, y]) => Math.abs((x - ax) * (by - ay) - (y - ay) * (bx - ax)) / length < STRAIGHT);
  }

  function write(ctx, text, [x, y, angle]) {
    ctx.save();
    ctx.translate(x, y);
    ctx.rotate(angle);
    ctx.strokeText(text, 0, 0);
    ctx.fillText(text, 0, 0);
    ctx.restore();
  }

  function draw(ctx, { text, font, points, width, lines }, colour) {
    Object.assign(ctx, { font: `${font} ${FONT}`, textAlign: "center", textBaseline: "middle", lineJoin: "round", lineWidth: 3, strokeStyle: COLOURS.ground, fillStyle: colour });
    if (lines) {
      lines.forEach(([line, place]) => write(ctx, line, place));
      return;
    }
    const [a, b] = [points[0], points[points.length - 1]];
    if (isStraight(points) || !SIMPLE.test(text)) {
      write(ctx, text, [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2, Math.atan2(b[1] - a[1], b[0] - a[0])]);
      return;
    }
    const line = new Stretch(points);
    const scale = line.length / width;
    // Each letter lies where it would in the whole text.
    const letters = [...text];
    letters.forEach((letter, l) => {
      const before = widthOf(letters.slice(0, l).join(""), font);
      const middle = (before + widthOf(letters.slice(0, l + 1).join(""), font)) / 2 + 1;
      write(ctx, letter, line.at(middle * scale));
    });
  }

  return { Taken, Stretch, clip, placeAlong, placeLevel, draw, shortened, widthOf };
})();
