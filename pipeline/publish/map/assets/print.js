"use strict";
// The printed page: the map on one canvas, since Leaflet's tiles print blank, with legend, scale and filter.
const KerfbookPrint = (() => {
  const { page, say, pieces, date, dayOf, number } = KerfbookWords;
  const { byId, el, quoted } = KerfbookElements;
  const { STATUSES, COLOURS, INK, HALO, FONT, icon, hazardIcon, hollowIcons, ringIcon } = KerfbookSymbols;
  const { roundLength } = KerfbookUnits;
  // Canvas pixels per pixel of the page.
  const RATIO = 3;
  // Fits A4 and Letter with a head above and a legend below.
  const [WIDTH, HEIGHT] = [720, 800];

  function paintOutlines(ctx, map, outlines, left, top, zoom) {
    ctx.beginPath();
    const ring = (points) => {
      if (Array.isArray(points[0])) {
        points.forEach(ring);
        return;
      }
      points.forEach((point, p) => {
        const spot = map.project(point, zoom);
        ctx[p ? "lineTo" : "moveTo"](spot.x - left, spot.y - top);
      });
    };
    outlines.eachLayer((layer) => { if (layer.getLatLngs) ring(layer.getLatLngs()); });
    ctx.setLineDash([6, 4]);
    ctx.strokeStyle = COLOURS["district-line"];
    ctx.lineWidth = 1.6;
    ctx.stroke();
    ctx.setLineDash([]);
  }

  function paintLabels(ctx, map, districts, left, top, zoom) {
    ctx.font = `600 13px ${FONT}`;
    ctx.textAlign = "center";
    ctx.lineJoin = "round";
    ctx.strokeStyle = HALO;
    ctx.lineWidth = 4;
    ctx.fillStyle = COLOURS["district-name"];
    for (const district of districts) {
      const spot = map.project(district.label, zoom);
      const name = district.name.slice(0, 40);
      ctx.strokeText(name, spot.x - left, spot.y - top);
      ctx.fillText(name, spot.x - left, spot.y - top);
    }
  }

  // A bar of round length near a fifth of the width, true at the middle of the view.
  function paintScale(ctx, map, zoom) {
    const centre = map.project(map.getCenter(), zoom);
    const metres = map.distance(map.getCenter(), map.unproject(centre.add([WIDTH / 5, 0]), zoom));
    const { metres: round, text } = roundLength(metres);
    const length = (round / metres) * (WIDTH / 5);
    const base = HEIGHT - 16;
    ctx.fillStyle = "rgb(255 255 255 / 85%)";
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
    ctx.fillText(text, 14, base - 10);
  }

  function paintNorth(ctx) {
    const [x, y] = [WIDTH - 24, 14];
    ctx.fillStyle = "rgb(255 255 255 / 85%)";
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
    ctx.fillText(say("paper.north"), x, y + 38);
  }

  function draw(map, layers) {
    const canvas = el("canvas", "");
    canvas.id = "paper";
    canvas.width = WIDTH * RATIO;
    canvas.height = HEIGHT * RATIO;
    const ctx = canvas.getContext("2d");
    ctx.scale(RATIO, RATIO);
    ctx.fillStyle = HALO;
    ctx.fillRect(0, 0, WIDTH, HEIGHT);
    // All that is on the screen, whatever the shape of the paper.
    const size = map.getSize();
    const zoom = map.getZoom() + Math.log2(Math.min(WIDTH / Math.max(1, size.x), HEIGHT / Math.max(1, size.y)));
    // Cores and roads are laid out at whole zooms only: painted there and stretched.
    const tileZoom = Math.round(zoom);
    const unit = 2 ** (tileZoom - zoom);
    const middle = map.project(map.getCenter(), tileZoom);
    const [left, top] = [middle.x - (WIDTH * unit) / 2, middle.y - (HEIGHT * unit) / 2];
    ctx.save();
    ctx.scale(1 / unit, 1 / unit);
    layers.hasRings = tileZoom < layers.cores.symbolZoom;
    const box = { left, top, width: WIDTH * unit, height: HEIGHT * unit, zoom: tileZoom, ratio: RATIO / unit, unit };
    if (layers.roads) layers.roads.paint(ctx, box);
    ctx.restore();
    const [atLeft, atTop] = [left / unit, top / unit];
    if (layers.districts) paintOutlines(ctx, map, layers.districts.outlines, atLeft, atTop, zoom);
    ctx.save();
    ctx.scale(1 / unit, 1 / unit);
    layers.cores.paint(ctx, box);
    ctx.restore();
    if (layers.districts) paintLabels(ctx, map, layers.districts.labelled, atLeft, atTop, zoom);
    paintScale(ctx, map, zoom);
    paintNorth(ctx);
    return canvas;
  }

  function legend(counts, layers) {
    const entries = STATUSES.map((status, s) => el("span", "", icon(s), ` ${status.label} ${number(counts.all[s])}`,
      counts.unplaced[s] ? ` (${say("legend.off", { n: counts.unplaced[s] })})` : ""));
    if (layers.hasRings) entries.push(el("span", "", ringIcon(), ` ${say("legend.ring_paper")}`));
    entries.push(el("span", "", ...hollowIcons(), ` ${say("legend.unsure")}`));
    if (page.hazards) entries.push(el("span", "", hazardIcon(), ` ${say("legend.hazard")}`));
    if (layers.roads) entries.push(el("span", "", el("span", "key road"), ` ${say("legend.roads")}`));
    if (layers.districts) entries.push(el("span", "", el("span", "key outline"), ` ${say("legend.outlines")}`));
    return el("p", "paper-legend", ...entries);
  }

  function build(map, layers, filter) {
    const sources = el("p", "paper-sources", say("view.data"));
    const hasMap = !byId("map-area").hidden;
    byId("paper-page").classList.toggle("without-map", !hasMap);
    page.sources.forEach((source, s) => sources.append(s ? say("lists.sources") : "", quoted(source)));
    return [
      el("h1", "", quoted(page.title)),
      el("p", "", ...pieces("header.as_of", { day: date(dayOf(page.asOf)), n: page.cores })),
      el("p", "paper-filter", say("paper.shown", { filter: KerfbookFilterWords.inWords(filter) }),
        ". ", filter.isAsking() ? say("filter.matching", { n: filter.total, all: filter.cores.all }) : say("filter.all", { n: filter.cores.all }), "."),
      hasMap ? el("p", "", byId("in-view").textContent) : "",
      // A map that is not on the screen has no size to draw it by.
      ...(hasMap ? [draw(map, layers), legend(filter.byStatus(), layers)] : []),
      page.sources.length ? sources : "",
    ];
  }

  function setUp(map, layersShown, filter) {
    let closed = [];
    window.addEventListener("beforeprint", () => {
      byId("paper-page").replaceChildren(...build(map, layersShown(), filter));
      closed = [...document.querySelectorAll("details.district:not([open]), #cautions:not([open])")];
      closed.forEach((details) => {
        KerfbookPanel.fill(details);
        details.open = true;
      });
    });
    window.addEventListener("afterprint", () => {
      byId("paper-page").replaceChildren();
      closed.forEach((details) => { details.open = false; });
    });
    byId("print").addEventListener("click", () => window.print());
  }

  return { setUp };
})();
