"use strict";
// The map for the printer: Leaflet's tiles print blank, one plain canvas does not.
const KerfbookPaper = (() => {
  const { el, OUTLINE } = KerfbookDom;
  const RATIO = 3;

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
      ctx.closePath();
    };
    outlines.eachLayer((layer) => { if (layer.getLatLngs) ring(layer.getLatLngs()); });
    ctx.setLineDash([6, 4]);
    ctx.strokeStyle = "#5a4a86";
    ctx.lineWidth = 1.6;
    ctx.stroke();
    ctx.setLineDash([]);
  }

  function paintLabels(ctx, map, districts, left, top, zoom) {
    ctx.font = "600 13px system-ui, 'Segoe UI', Roboto, Arial, sans-serif";
    ctx.textAlign = "center";
    ctx.lineJoin = "round";
    ctx.strokeStyle = "#fff";
    ctx.lineWidth = 4;
    ctx.fillStyle = "#3f3468";
    for (const district of districts) {
      const spot = map.project(district.label, zoom);
      const name = district.name.slice(0, 40);
      ctx.strokeText(name, spot.x - left, spot.y - top);
      ctx.fillText(name, spot.x - left, spot.y - top);
    }
  }

  // A round length near a fifth of the width, true at the middle of the view.
  function paintScale(ctx, map, width, height) {
    const middle = map.latLngToContainerPoint(map.getCenter());
    const ends = [middle, middle.add([width / 5, 0])].map((point) => map.containerPointToLatLng(point));
    const metres = map.distance(...ends);
    const power = 10 ** Math.floor(Math.log10(metres));
    const round = [5, 2, 1].find((step) => step * power <= metres) * power;
    const length = (round / metres) * (width / 5);
    ctx.strokeStyle = ctx.fillStyle = OUTLINE;
    ctx.lineWidth = 2;
    ctx.beginPath();
    ctx.moveTo(14, height - 22);
    ctx.lineTo(14, height - 14);
    ctx.lineTo(14 + length, height - 14);
    ctx.lineTo(14 + length, height - 22);
    ctx.stroke();
    ctx.font = "12px system-ui, 'Segoe UI', Roboto, Arial, sans-serif";
    ctx.textAlign = "left";
    ctx.fillText(round >= 1000 ? `${round / 1000} km` : `${round} m`, 20, height - 20);
  }

  function draw(map, layers, districts) {
    const { min } = map.getPixelBounds();
    const { x: width, y: height } = map.getSize();
    const zoom = map.getZoom();
    const canvas = el("canvas", "");
    canvas.id = "paper";
    canvas.width = width * RATIO;
    canvas.height = height * RATIO;
    const ctx = canvas.getContext("2d");
    ctx.scale(RATIO, RATIO);
    ctx.fillStyle = "#fff";
    ctx.fillRect(0, 0, width, height);
    const box = { left: min.x, top: min.y, width, height, zoom, ratio: RATIO, unit: 1 };
    if (layers.roads) layers.roads.paint(ctx, box);
    if (layers.outlines) paintOutlines(ctx, map, layers.outlines, min.x, min.y, zoom);
    layers.cores.paint(ctx, box);
    if (layers.outlines) paintLabels(ctx, map, districts, min.x, min.y, zoom);
    paintScale(ctx, map, width, height);
    return canvas;
  }

  function setUp(map, layersShown, districts) {
    let closed = [];
    window.addEventListener("beforeprint", () => {
      document.getElementById("paper")?.remove();
      document.getElementById("map-area").prepend(draw(map, layersShown(), districts));
      closed = [...document.querySelectorAll("details.district:not([open]), #cautions:not([open]), #unplaced:not([open])")];
      closed.forEach((details) => { details.open = true; });
    });
    window.addEventListener("afterprint", () => {
      document.getElementById("paper")?.remove();
      closed.forEach((details) => { details.open = false; });
    });
  }

  return { setUp };
})();
