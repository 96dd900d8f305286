"use strict";
// How cores look, in the page and on a canvas: a symbol per status, and a ring for many cores.
const KerfbookSymbols = (() => {
  const { page, say, short, number } = KerfbookWords;
  const { el, svg } = KerfbookElements;
  const { halo: HALO, hollow: HOLLOW, colours: COLOURS } = page.looks;
  const STATUSES = page.looks.statuses.map((status) => Object.assign(status, { label: say(`status.${status.name}`) }));
  const INK = COLOURS.ink;
  const FONT = "system-ui, 'Segoe UI', Roboto, Arial, sans-serif";
  const BOX = { viewBox: "-11 -11 22 22", class: "icon", "aria-hidden": "true" };
  // Where the mark of a hazard lies, in the box of a symbol: its middle and radius, the stroke and the dot below it.
  const BADGE = { x: 5.6, y: -5.6, r: 4.4, stroke: [-3.1, 0.6], dot: 2.6 };
  const sprites = new Map();

  function icon(status, isHollow = false, isHazard = false) {
    const { path: d, colour, outline } = STATUSES[status];
    const line = { stroke: outline, "stroke-width": "1.6", "stroke-linejoin": "round" };
    const made = svg("svg", BOX);
    made.append(svg("path", { d, fill: colour, ...line }));
    if (isHollow) made.append(svg("path", { d, fill: HALO, transform: `scale(${HOLLOW})`, ...line }));
    if (isHazard) made.append(...badge());
    return made;
  }

  // The mark of a hazard: an exclamation mark on a dark disc.
  function badge() {
    const { x, y, r, stroke, dot } = BADGE;
    return [
      svg("circle", { cx: x, cy: y, r: r + 1.2, fill: HALO }),
      svg("circle", { cx: x, cy: y, r, fill: INK }),
      svg("path", { d: `M${x} ${y + stroke[0]}V${y + stroke[1]}`, stroke: HALO, "stroke-width": 1.9 }),
      svg("circle", { cx: x, cy: y + dot, r: 1.1, fill: HALO }),
    ];
  }

  function hazardIcon() {
    const made = svg("svg", { ...BOX, viewBox: "-2.5 -12.5 14 14" });
    made.append(...badge());
    return made;
  }

  // The symbols of cores whose street, surface or district is uncertain.
  const hollowIcons = () => STATUSES.map((_status, s) => icon(s, true));

  // Three parts, like a ring of cores of every status.
  function ringIcon() {
    const made = svg("svg", BOX);
    // A circle of radius 7 is 44 long: thirds of it, one after another.
    STATUSES.forEach(({ colour }, s) => made.append(svg("circle", { r: 7, fill: "none", stroke: colour, "stroke-width": 5, "stroke-dasharray": "14.66 29.32", "stroke-dashoffset": -14.66 * s })));
    for (const r of [9.6, 4.4]) made.append(svg("circle", { r, fill: "none", stroke: INK, "stroke-width": 1.2 }));
    return made;
  }

  // Three counts with their symbols; a screen reader reads the status.
  function tally(counts) {
    return el("span", "tally", ...STATUSES.map((status, s) =>
      el("span", counts[s] ? "" : "none", icon(s), number(counts[s]), el("span", "unseen", ` ${status.label} `))));
  }

  // A core's symbol, drawn once per size; ratio is canvas pixels per pixel of the radius.
  function spriteOf(status, isHollow, isHazard, radius, ratio) {
    const name = `${status} ${isHollow} ${isHazard} ${radius} ${ratio}`;
    if (!sprites.has(name)) sprites.set(name, drawSprite(status, isHollow, isHazard, radius, ratio));
    return sprites.get(name);
  }

  function drawSprite(status, isHollow, isHazard, radius, ratio) {
    const { path, colour, outline } = STATUSES[status];
    const canvas = document.createElement("canvas");
    canvas.width = canvas.height = 2 * Math.ceil((radius * 1.45 + 2) * ratio);
    const ctx = canvas.getContext("2d");
    ctx.translate(canvas.width / 2, canvas.height / 2);
    ctx.scale((radius / 8) * ratio, (radius / 8) * ratio);
    const shape = new Path2D(path);
    ctx.lineJoin = "round";
    ctx.strokeStyle = HALO;
    ctx.lineWidth = 4.6;
    ctx.stroke(shape);
    ctx.fillStyle = colour;
    ctx.fill(shape);
    ctx.strokeStyle = outline;
    ctx.lineWidth = 1.7;
    ctx.stroke(shape);
    if (isHollow) {
      ctx.save();
      ctx.scale(HOLLOW, HOLLOW);
      ctx.fillStyle = HALO;
      ctx.fill(shape);
      ctx.lineWidth = 2.2;
      ctx.stroke(shape);
      ctx.restore();
    }
    if (isHazard) paintBadge(ctx);
    return canvas;
  }

  function paintBadge(ctx) {
    const { x, y, r, stroke, dot } = BADGE;
    const disc = (cy, radius, colour) => {
      ctx.beginPath();
      ctx.arc(x, cy, radius, 0, 2 * Math.PI);
      ctx.fillStyle = colour;
      ctx.fill();
    };
    disc(y, r + 1.2, HALO);
    disc(y, r, INK);
    ctx.fillStyle = HALO;
    ctx.fillRect(x - 0.95, y + stroke[0], 1.9, stroke[1] - stroke[0]);
    disc(y + dot, 1.1, HALO);
  }

  function paintRing(ctx, x, y, radius, counts, sum) {
    const disc = (r, colour) => {
      ctx.beginPath();
      ctx.arc(x, y, r, 0, 2 * Math.PI);
      ctx.fillStyle = colour;
      ctx.fill();
    };
    disc(radius + 2.2, HALO);
    disc(radius + 0.8, INK);
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
    disc(radius * 0.62 + 0.8, INK);
    disc(radius * 0.62, HALO);
    ctx.fillStyle = INK;
    const text = sum < 1000 ? short(sum) : say("view.thousands", { n: sum < 9950 ? Math.round(sum / 100) / 10 : Math.round(sum / 1000) });
    // Small enough for the ring; in whole pixels, since a browser builds a new font for each size.
    const size = Math.round(radius * (text.length < 3 ? 0.64 : text.length < 4 ? 0.54 : 0.46));
    ctx.font = `600 ${size}px ${FONT}`;
    ctx.textAlign = "center";
    ctx.textBaseline = "middle";
    ctx.fillText(text, x, y + 0.5);
  }

  return { STATUSES, COLOURS, INK, HALO, FONT, icon, hollowIcons, hazardIcon, ringIcon, tally, spriteOf, paintRing };
})();
