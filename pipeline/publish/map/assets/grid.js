"use strict";
// Coordinates: ticks of the run's grid along the edge of the map, and where the pointer is, or the middle of the map.
const KerfbookGrid = (() => {
  const { page, say, degree, number, short } = KerfbookWords;
  const { el, quoted } = KerfbookElements;
  const { COLOURS, FONT } = KerfbookSymbols;
  const { grid } = page;
  // Pixels between two ticks at least, and how long one is.
  const SPACING = 130;
  const TICK = 7;
  // Newton's steps from a straight line: the grid bends by less than a pixel after two.
  const STEPS = 3;

  // Easting and northing in the run's CRS, in metres; null outside of where they are known.
  function toRun(lat, lng) {
    if (!grid) return null;
    const [u, v] = [(lng - grid.middle[0]) / grid.half[0], (lat - grid.middle[1]) / grid.half[1]];
    if (Math.abs(u) > 1 || Math.abs(v) > 1) return null;
    let [east, north] = [0, 0];
    grid.powers.forEach(([i, j], p) => {
      const term = u ** i * v ** j;
      east += grid.east[p] * term;
      north += grid.north[p] * term;
    });
    return [east, north];
  }

  // Where a coordinate (0 east, 1 north) takes round values between two points of the screen: [value, share of the way].
  function ticks(map, which, from, to) {
    const at = (share) => {
      const { lat, lng } = map.containerPointToLatLng(from.add(to.subtract(from).multiplyBy(share)));
      return toRun(lat, lng)?.[which];
    };
    const [first, last] = [at(0), at(1)];
    if (first === undefined || last === undefined || first === last) return [];
    const rough = (Math.abs(last - first) / from.distanceTo(to)) * SPACING;
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((times) => times * power).find((size) => size >= rough);
    const found = [];
    for (let value = Math.ceil(Math.min(first, last) / step) * step; value <= Math.max(first, last); value += step) {
      let share = (value - first) / (last - first);
      for (let s = 0; s < STEPS; s += 1) share += (value - (at(share) ?? value)) / (last - first);
      found.push([value, share]);
    }
    return found;
  }

  // The figures that are on the screen: the middle of each, half its length, and whether it stands upright.
  let labels = [];

  function paint(map, canvas) {
    labels = [];
    const { x: width, y: height } = map.getSize();
    const ratio = window.devicePixelRatio || 1;
    canvas.width = Math.round(width * ratio);
    canvas.height = Math.round(height * ratio);
    canvas.style.width = `${width}px`;
    canvas.style.height = `${height}px`;
    const ctx = canvas.getContext("2d");
    ctx.scale(ratio, ratio);
    Object.assign(ctx, { font: `10.5px ${FONT}`, textBaseline: "middle", lineJoin: "round" });
    const write = (text, x, y, angle) => {
      ctx.save();
      ctx.translate(x, y);
      ctx.rotate(angle);
      Object.assign(ctx, { textAlign: "center", lineWidth: 3, strokeStyle: COLOURS.ground, fillStyle: COLOURS.muted });
      ctx.strokeText(text, 0, 0);
      ctx.fillText(text, 0, 0);
      if (canvas.offsetParent) labels.push({ x, y, half: ctx.measureText(text).width / 2, isUpright: angle !== 0 });
      ctx.restore();
    };
    const line = (x, y, dx, dy) => {
      ctx.beginPath();
      ctx.moveTo(x, y);
      ctx.lineTo(x + dx, y + dy);
      Object.assign(ctx, { lineWidth: 1, strokeStyle: COLOURS.muted });
      ctx.stroke();
    };
    for (const [value, share] of ticks(map, 0, L.point(0, 0), L.point(width, 0))) {
      line(Math.round(share * width) + 0.5, 0, 0, TICK);
      // The zoom buttons lie at the left.
      if (share * width > 90 && share * width < width - 60) write(say("grid.east", { m: short(value) }), share * width, TICK + 7, 0);
    }
    for (const [value, share] of ticks(map, 1, L.point(width, 0), L.point(width, height))) {
      line(width, Math.round(share * height) + 0.5, -TICK, 0);
      if (share * height > 50 && share * height < height - 90) write(say("grid.north", { m: short(value) }), width - TICK - 7, share * height, -Math.PI / 2);
    }
  }

  // Under the pointer, else of the middle of the map.
  function show(box, { lat, lng }, isPointer) {
    const run = toRun(lat, lng);
    const parts = [el("span", "", say(isPointer ? "grid.pointer" : "grid.middle", { lat: degree(lat), lon: degree(lng) }))];
    if (run) {
      const [east, north] = run.map((metres) => number(Math.round(metres)));
      parts.push(el("span", "", quoted(page.crs), ` ${say("grid.run", { east, north })}`));
    }
    box.replaceChildren(...parts);
  }

  function setUp(map) {
    const control = L.control({ position: "bottomright" });
    const box = el("div", "coordinates");
    if (grid) box.title = say("grid.error", { m: grid.error_m });
    control.onAdd = () => box;
    control.addTo(map);
    const canvas = el("canvas", "grid-ticks");
    canvas.setAttribute("aria-hidden", "true");
    map.getContainer().append(canvas);
    let waiting = false;
    const follow = () => {
      if (waiting) return;
      waiting = true;
      requestAnimationFrame(() => {
        waiting = false;
        paint(map, canvas);
      });
    };
    const middle = () => show(box, map.getCenter(), false);
    map.on("move resize", follow);
    map.on("moveend mouseout", middle);
    map.on("mousemove", ({ latlng, originalEvent }) => { if (!originalEvent.buttons) show(box, latlng, true); });
    KerfbookSymbols.onScheme(follow);
    follow();
    middle();
  }

  return { setUp, toRun, labelsOnScreen: () => labels };
})();
