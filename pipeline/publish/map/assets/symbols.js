"use strict";
// How cores look, in the page and on a canvas: the shape and colour of the status, a mark inside for the state, a badge
// for a hazard or what is overdue, a white middle where the street, surface or district is uncertain.
const KerfbookSymbols = (() => {
  const { page, say, number } = KerfbookWords;
  const { el, svg } = KerfbookElements;
  const { halo: HALO, hollow: HOLLOW, levels: LEVELS, statuses, darkStatuses, colours, darkColours } = page.looks;
  // Both are filled with the colours in use: light, or dark on a screen whose reader prefers it.
  const COLOURS = {};
  const STATUSES = statuses.map((status) => ({ ...status, label: say(`status.${status.name}`) }));
  const INK = colours.ink;
  const FONT = "system-ui, 'Segoe UI', Roboto, Arial, sans-serif";
  const BOX = { viewBox: "-11 -11 22 22", class: "icon", "aria-hidden": "true" };
  // Where a badge lies, in the box of a symbol: its middle and radius.
  const BADGE = { x: 4.9, y: -4.9, r: 5 };
  // On the badge: an exclamation mark for a hazard, the hands of a clock for what is overdue.
  const BADGE_MARKS = { hazard: "M0-3.3V.2M0 3.1V3.2", overdue: "M0-3.4V.2L2.6 1.8" };
  // A hole, a plate across it, a hole half filled; nothing where the road is whole again; two dots where nobody knows.
  const STATE_MARKS = {
    open: "M-2.5 0A2.5 2.5 0 1 1 2.5 0A2.5 2.5 0 1 1-2.5 0Z",
    plated: "M-4.4-1.3H4.4V1.3H-4.4Z",
    interim: "M-3.8-.6H3.8A3.8 3.8 0 0 1-3.8-.6Z",
    back: "",
    unknown: "M-3.3-1.1H-1.1V1.1H-3.3ZM1.1-1.1H3.3V1.1H1.1Z",
  };
  // By level, the most urgent first: what is urgent is larger, what is in order steps back.
  const SIZES = [1.32, 1.18, 1, 0.94, 0.7];
  const ORDER = LEVELS.indexOf("order");
  // The middle of a triangle lies lower than that of its box.
  const LOWERED = { flagged: [1.9, 0.82] };
  const sprites = new Map();
  const listeners = [];
  const dark = window.matchMedia("(prefers-color-scheme: dark)");

  function useScheme(isDark) {
    Object.assign(COLOURS, colours, isDark ? darkColours : {});
    STATUSES.forEach((status, s) => {
      const [colour, outline, letters] = isDark ? darkStatuses[s] : [statuses[s].colour, statuses[s].outline, statuses[s].letters];
      Object.assign(status, { colour, outline, letters });
    });
    sprites.clear();
  }

  useScheme(dark.matches);
  dark.addEventListener("change", () => {
    useScheme(dark.matches);
    listeners.forEach((listener) => listener());
  });
  // Paper is always light; this listener is the first, so that whatever is painted for the paper comes after it.
  window.addEventListener("beforeprint", () => useScheme(false));
  window.addEventListener("afterprint", () => useScheme(dark.matches));

  // Called when the colours have changed: what is on a canvas has to be painted again.
  const onScheme = (listener) => listeners.push(listener);

  // Urgency: "hazard" (or true), "overdue", or anything else for no badge; state: one of the page's states, or null.
  function icon(status, isHollow = false, urgency = null, state = null) {
    const { path: d, name } = STATUSES[status];
    const line = { "stroke-width": "1.6", "stroke-linejoin": "round" };
    const made = svg("svg", BOX);
    made.append(svg("path", { d, class: `symbol-line fill-${name}`, ...line }));
    if (isHollow) made.append(svg("path", { d, class: "symbol-line fill-halo", transform: `scale(${HOLLOW})`, ...line }));
    const mark = STATE_MARKS[state];
    if (mark) {
      const [down, size] = LOWERED[name] || [0, 1];
      made.append(svg("path", { d: mark, class: isHollow ? "fill-line" : `fill-${name}-letters`, transform: `translate(0 ${down}) scale(${size})` }));
    }
    const kind = urgency === true ? "hazard" : urgency;
    if (BADGE_MARKS[kind]) made.append(...badge(kind));
    return made;
  }

  function badge(kind) {
    const { x, y, r } = BADGE;
    return [
      svg("circle", { cx: x, cy: y, r: r + 1.2, class: "fill-halo" }),
      svg("circle", { cx: x, cy: y, r, class: "fill-ink" }),
      svg("path", { d: BADGE_MARKS[kind], transform: `translate(${x} ${y})`, class: "badge-mark" }),
    ];
  }

  function badgeIcon(kind) {
    const made = svg("svg", { ...BOX, viewBox: "-1.6 -11.4 13 13" });
    made.append(...badge(kind));
    return made;
  }

  const hazardIcon = () => badgeIcon("hazard");

  // The symbols of cores whose street, surface or district is uncertain.
  const hollowIcons = () => STATUSES.map((_status, s) => icon(s, true));

  // Three counts with their symbols; a screen reader reads the status.
  function tally(counts) {
    return el("span", "tally", ...STATUSES.map((status, s) =>
      el("span", counts[s] ? "" : "none", icon(s), number(counts[s]), el("span", "unseen", ` ${status.label} `))));
  }

  const sizeOf = (level) => SIZES[level] ?? 1;

  // The box of a core's badge, its symbol at [x, y] and of a radius; null for a core without one.
  function badgeBox(level, radius, [x, y]) {
    if (!(LEVELS[level] in BADGE_MARKS)) return null;
    const scale = (radius * sizeOf(level)) / 8;
    const [cx, cy, half] = [x + BADGE.x * scale, y + BADGE.y * scale, (BADGE.r + 1.2) * scale];
    return { left: cx - half, right: cx + half, top: cy - half, bottom: cy + half };
  }

  // A core's symbol, drawn once per look and size; ratio is canvas pixels per pixel of the radius. A look has status,
  // isHollow, level (0 hazard, 1 overdue), hasBadge, and state (a position in the page's states, or null).
  function spriteOf(look, radius, ratio) {
    const badgeOf = look.hasBadge ? LEVELS[look.level] : "";
    const name = `${look.status} ${look.isHollow} ${badgeOf in BADGE_MARKS ? badgeOf : ""} ${look.level === ORDER} ${look.state} ${radius} ${ratio}`;
    if (!sprites.has(name)) sprites.set(name, drawSprite(look, badgeOf, radius, ratio));
    return sprites.get(name);
  }

  function drawSprite({ status, isHollow, state, level }, badgeOf, radius, ratio) {
    const { path, colour, letters, name } = STATUSES[status];
    const outline = level === ORDER ? COLOURS["symbol-quiet"] : STATUSES[status].outline;
    const canvas = document.createElement("canvas");
    canvas.width = canvas.height = 2 * Math.ceil((radius * 1.45 + 2) * ratio);
    const ctx = canvas.getContext("2d");
    ctx.translate(canvas.width / 2, canvas.height / 2);
    ctx.scale((radius / 8) * ratio, (radius / 8) * ratio);
    const shape = new Path2D(path);
    ctx.lineJoin = "round";
    ctx.strokeStyle = COLOURS["symbol-halo"];
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
      ctx.fillStyle = COLOURS["symbol-halo"];
      ctx.fill(shape);
      ctx.lineWidth = 2.2;
      ctx.stroke(shape);
      ctx.restore();
    }
    const mark = state === null ? "" : STATE_MARKS[page.states[state]];
    if (mark) {
      const [down, size] = LOWERED[name] || [0, 1];
      ctx.save();
      ctx.translate(0, down);
      ctx.scale(size, size);
      ctx.fillStyle = isHollow ? COLOURS.ink : letters;
      ctx.fill(new Path2D(mark));
      ctx.restore();
    }
    if (badgeOf in BADGE_MARKS) paintBadge(ctx, badgeOf);
    return canvas;
  }

  function paintBadge(ctx, kind) {
    const { x, y, r } = BADGE;
    for (const [radius, colour] of [[r + 1.2, COLOURS["symbol-halo"]], [r, COLOURS.ink]]) {
      ctx.beginPath();
      ctx.arc(x, y, radius, 0, 2 * Math.PI);
      ctx.fillStyle = colour;
      ctx.fill();
    }
    ctx.translate(x, y);
    ctx.lineCap = "round";
    ctx.strokeStyle = COLOURS["symbol-halo"];
    ctx.lineWidth = 1.8;
    ctx.stroke(new Path2D(BADGE_MARKS[kind]));
  }

  return { STATUSES, COLOURS, LEVELS, INK, HALO, FONT, onScheme, icon, badgeIcon, hollowIcons, hazardIcon, tally, sizeOf, spriteOf, badgeBox };
})();
