"use strict";
// A map for paper on one canvas, since Leaflet's tiles print blank. What its box holds is drawn, and that is what is counted.
const KerfbookPaperMap = (() => {
  const { say } = KerfbookWords;
  const { el } = KerfbookElements;
  const { COLOURS, INK, HALO, FONT } = KerfbookSymbols;
  const { roundLength } = KerfbookUnits;
  const WORLD = 2 ** 30;
  // Canvas pixels per pixel of the page.
  const RATIO = 3;
  const CLOSEST = 19;
  const EARTH = 40075016.686;
  // Around the network, as a share of its longer side; and how far beyond it district outlines are shown.
  const EDGE = 0.03;
  const MOST_OUTLINES = 0.5;
  // Behind what is written on the map.
  const VEIL = "rgb(255 255 255 / 85%)";

  // The box of a map: width and height in pixels of the page, around a middle in world integers.
  function boxAround([x, y], zoom, width, height) {
    // Cores and roads are laid out at whole zooms only: painted there and stretched.
    const tileZoom = Math.round(zoom);
    const unit = 2 ** (tileZoom - zoom);
    const scale = (256 * 2 ** tileZoom) / WORLD;
    const box = { left: x * scale - (width * unit) / 2, top: y * scale - (height * unit) / 2, width: width * unit, height: height * unit, zoom: tileZoom, ratio: RATIO / unit, unit };
    return { width, height, middle: [x, y], zoom, box, spot: (wx, wy) => [(wx * scale - box.left) / unit, (wy * scale - box.top) / unit] };
  }

  // The limits of the network in world integers: streets, cores, and the outlines around them.
  function limitsOfNetwork({ allRoads: { blocks }, cores, districts, worldOf }) {
    const limits = [Infinity, Infinity, -Infinity, -Infinity];
    const take = (west, north, east, south) => {
      if (west < limits[0]) limits[0] = west;
      if (north < limits[1]) limits[1] = north;
      if (east > limits[2]) limits[2] = east;
      if (south > limits[3]) limits[3] = south;
    };
    for (let b = 0; b < blocks.length; b += 4) take(blocks[b], blocks[b + 1], blocks[b + 2], blocks[b + 3]);
    for (let i = 0; i < cores.count; i += 1) take(cores.x[i], cores.y[i], cores.x[i], cores.y[i]);
    const [west, north, east, south] = limits;
    const bounds = districts?.outlines.getBounds();
    if (!(west <= east) || !bounds?.isValid()) return limits;
    // Outlines of a county would leave its one town small.
    const more = MOST_OUTLINES * Math.max(east - west, south - north);
    const [[left, top], [right, bottom]] = [worldOf(bounds.getNorthWest()), worldOf(bounds.getSouthEast())];
    take(Math.max(left, west - more), Math.max(top, north - more), Math.min(right, east + more), Math.min(bottom, south + more));
    return limits;
  }

  // All that is on the screen of the network, whatever the shape of the paper: around a small town the screen is empty.
  function boxOfView({ centre, size, zoom }, width, height, layers) {
    const [wide, high] = [size.x, size.y].map((pixels) => (pixels * WORLD) / (256 * 2 ** zoom));
    const view = [centre[0] - wide / 2, centre[1] - high / 2, centre[0] + wide / 2, centre[1] + high / 2];
    const [west, north, east, south] = limitsOfNetwork(layers);
    const edge = EDGE * Math.max(east - west, south - north);
    const shown = [Math.max(view[0], west - edge), Math.max(view[1], north - edge), Math.min(view[2], east + edge), Math.min(view[3], south + edge)];
    const isEmpty = !(shown[2] > shown[0] && shown[3] > shown[1]);
    return boxOfLimits(isEmpty ? view : shown, width, height, 0);
  }

  // All of the limits (world integers), with a margin in pixels.
  function boxOfLimits([west, north, east, south], width, height, margin) {
    const scale = Math.min((width - 2 * margin) / (east - west), (height - 2 * margin) / (south - north));
    const zoom = Math.max(0, Math.min(CLOSEST, Math.log2((scale * WORLD) / 256)));
    return boxAround([(west + east) / 2, (north + south) / 2], zoom, width, height);
  }

  function metresPerPixel({ middle, zoom }) {
    return (EARTH / Math.cosh(Math.PI * (1 - (2 * middle[1]) / WORLD))) / (256 * 2 ** zoom);
  }

  function begin({ width, height }) {
    const canvas = el("canvas", "paper-map");
    canvas.width = Math.round(width * RATIO);
    canvas.height = Math.round(height * RATIO);
    canvas.style.width = `${width}px`;
    const ctx = canvas.getContext("2d", { alpha: false });
    ctx.scale(RATIO, RATIO);
    ctx.fillStyle = HALO;
    ctx.fillRect(0, 0, width, height);
    // A printer may get the strokes instead of the pixels: those outside would be seen.
    ctx.beginPath();
    ctx.rect(0, 0, width, height);
    ctx.clip();
    return { canvas, ctx };
  }

  // Roads and cores paint in the pixels of their own zoom.
  function stretched(ctx, { box }, paint) {
    ctx.save();
    ctx.scale(1 / box.unit, 1 / box.unit);
    paint();
    ctx.restore();
  }

  function line(ctx, points, spot) {
    points.forEach(([x, y], p) => ctx[p ? "lineTo" : "moveTo"](...spot(x, y)));
  }

  // The street of a sheet, as a broad band below its roads.
  function paintBand(ctx, lines, { spot }) {
    ctx.beginPath();
    lines.forEach((points) => line(ctx, points, spot));
    ctx.lineCap = ctx.lineJoin = "round";
    ctx.strokeStyle = COLOURS.rule;
    ctx.lineWidth = 12;
    ctx.stroke();
  }

  // The part of a line from a to b (pixels) that lies on the map, or null: dashes far outside would swell the file.
  function clipped([ax, ay], [bx, by], { width, height }) {
    const [dx, dy] = [bx - ax, by - ay];
    let [from, to] = [0, 1];
    for (const [step, room] of [[-dx, ax], [dx, width - ax], [-dy, ay], [dy, height - ay]]) {
      if (step === 0 && room < 0) return null;
      if (step < 0) from = Math.max(from, room / step);
      if (step > 0) to = Math.min(to, room / step);
    }
    return from < to ? [[ax + from * dx, ay + from * dy], [ax + to * dx, ay + to * dy], from, to] : null;
  }

  // The district outlines on this map, as runs of points.
  function outlinesOn({ districts, worldOf }, frame) {
    const runs = [];
    const follow = (points) => {
      const spots = points.map((point) => frame.spot(...worldOf(point)));
      let isOpen = false;
      for (let p = 1; p < spots.length; p += 1) {
        const part = clipped(spots[p - 1], spots[p], frame);
        if (part) {
          const [a, b, from, to] = part;
          if (isOpen && from === 0) runs[runs.length - 1].push(b);
          else runs.push([a, b]);
          isOpen = to === 1;
        } else isOpen = false;
      }
    };
    const ring = (points) => {
      if (Array.isArray(points[0])) points.forEach(ring);
      else follow(points);
    };
    districts?.outlines.eachLayer((layer) => { if (layer.getLatLngs) ring(layer.getLatLngs()); });
    return runs;
  }

  function paintOutlines(ctx, layers, frame) {
    ctx.beginPath();
    outlinesOn(layers, frame).forEach((points) => line(ctx, points, (x, y) => [x, y]));
    ctx.setLineDash([6, 4]);
    ctx.strokeStyle = COLOURS["district-line"];
    ctx.lineWidth = 1.6;
    ctx.stroke();
    ctx.setLineDash([]);
  }

  // A bar of round length near a fifth of the width, true at the middle of the map.
  function paintScale(ctx, frame) {
    const { width, height } = frame;
    const metres = metresPerPixel(frame) * (width / 5);
    const { metres: round, text } = roundLength(metres);
    const length = (round / metres) * (width / 5);
    const base = height - 16;
    ctx.fillStyle = VEIL;
    ctx.fillRect(8, base - 26, length + 12, 34);
    ctx.strokeStyle = ctx.fillStyle = INK;
    ctx.lineWidth = 2;
    ctx.beginPath();
    ctx.moveTo(14, base - 6);
    ctx.lineTo(14, base + 2);
    ctx.lineTo(14 + length, base + 2);
    ctx.lineTo(14 + length, base - 6);
    ctx.stroke();
    ctx.font = `12px ${FONT}`;
    ctx.textAlign = "left";
    ctx.textBaseline = "alphabetic";
    ctx.fillText(text, 14, base - 10);
  }

  function paintNorth(ctx, { width }) {
    const [x, y] = [width - 24, 14];
    ctx.fillStyle = VEIL;
    ctx.fillRect(x - 14, y - 8, 28, 52);
    ctx.fillStyle = INK;
    ctx.beginPath();
    ctx.moveTo(x, y - 4);
    ctx.lineTo(x + 8, y + 20);
    ctx.lineTo(x, y + 14);
    ctx.lineTo(x - 8, y + 20);
    ctx.closePath();
    ctx.fill();
    ctx.font = `600 14px ${FONT}`;
    ctx.textAlign = "center";
    ctx.textBaseline = "alphabetic";
    ctx.fillText(say("paper.north"), x, y + 38);
  }

  function finish(ctx, frame) {
    paintScale(ctx, frame);
    paintNorth(ctx, frame);
    ctx.strokeStyle = COLOURS.grey;
    ctx.lineWidth = 2;
    ctx.strokeRect(0, 0, frame.width, frame.height);
  }

  // Which lines are on a map: the levels of the streets where they are coloured, the kinds of works, roads, outlines.
  function linesOn(layers, frame, isColoured) {
    const { roads, works } = layers;
    const { box } = frame;
    const scale = (256 * 2 ** box.zoom) / WORLD;
    const edges = [box.left, box.top, box.left + box.width, box.top + box.height].map((edge) => edge / scale);
    const found = roads ? roads.within(...edges) : [];
    const isOn = (points) => points.some((point, p) => p > 0 && clipped(frame.spot(...points[p - 1]), frame.spot(...point), frame));
    return {
      hasRoads: found.length > 0,
      roads,
      zoom: box.zoom,
      levels: new Set(isColoured ? found.map((i) => roads.level[i]) : []),
      works: works.filter(({ bands }) => bands.works.some(({ lines }) => lines.some(isOn))).map(({ kind }) => kind),
      hasOutlines: outlinesOn(layers, frame).length > 0,
    };
  }

  const bandsOf = ({ works }) => works.map(({ bands }) => bands);

  function paintWorks(ctx, layers, frame) {
    bandsOf(layers).forEach((bands) => stretched(ctx, frame, () => {
      ctx.save();
      bands.paint(ctx, frame.box);
      ctx.restore();
    }));
  }

  // The edges of the map, its scale bar and its north: no name runs out of the map or under them.
  function takeFrame(taken, { width, height }) {
    for (let x = 0; x <= width; x += 8) [0, height].forEach((y) => taken.add(x, y, 5));
    for (let y = 0; y <= height; y += 8) [0, width].forEach((x) => taken.add(x, y, 5));
    for (let x = 10; x <= width / 4; x += 10) [height - 36, height - 16].forEach((y) => taken.add(x, y, 12));
    [12, 32, 52].forEach((y) => taken.add(width - 24, y, 14));
  }

  // The names of streets, works and districts where there is room for them, clear of what is taken.
  function paintNames(ctx, layers, frame, taken = new KerfbookLettering.Taken()) {
    takeFrame(taken, frame);
    const shown = { roads: Boolean(layers.roads), districts: Boolean(layers.districts), works: bandsOf(layers) };
    stretched(ctx, frame, () => layers.names.paintOn(ctx, frame.box, shown, taken));
  }

  // The map as the filter shows it.
  function draw(frame, layers) {
    const { cores, roads } = layers;
    const { canvas, ctx } = begin(frame);
    paintWorks(ctx, layers, frame);
    if (roads) stretched(ctx, frame, () => roads.paint(ctx, frame.box));
    paintOutlines(ctx, layers, frame);
    stretched(ctx, frame, () => cores.paint(ctx, frame.box));
    paintNames(ctx, layers, frame);
    finish(ctx, frame);
    return canvas;
  }

  return { RATIO, boxOfView, boxOfLimits, linesOn, begin, stretched, paintBand, paintWorks, paintOutlines, paintNames, finish, draw };
})();
