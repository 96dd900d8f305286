"use strict";
// Planned works, protected streets and resurfaced roads: bands below the roads, each kind with a pattern of its own.
const KerfbookWorks = (() => {
  const { page } = KerfbookWords;
  const { COLOURS } = KerfbookSymbols;
  const WORLD = 2 ** 30;
  // Pixels that a band is wider than the widest street.
  const WIDER = 7;
  const KINDS = ["planned", "protected", "resurfaced"];

  // All works of a kind, as a painter of tiles.
  class Bands {
    constructor(map, kind) {
      this.kind = kind;
      const toWorld = (point) => {
        const { x, y } = map.project(point, 0);
        return [(x / 256) * WORLD, (y / 256) * WORLD];
      };
      this.works = page.works.filter((one) => one.kind === kind).map(({ name, lines }) => ({ name, lines: lines.map((line) => line.map(toWorld)) }));
    }

    paint(ctx, { left, top, zoom, unit }) {
      const scale = (256 * 2 ** zoom) / WORLD;
      const path = new Path2D();
      for (const { lines } of this.works) {
        for (const line of lines) line.forEach(([x, y], p) => path[p ? "lineTo" : "moveTo"](x * scale - left, y * scale - top));
      }
      const width = (KerfbookRoads.widest(zoom) + WIDER) * unit;
      ctx.lineJoin = "round";
      this[this.kind](ctx, path, width, unit);
    }

    // Broken into blocks.
    planned(ctx, path, width, unit) {
      ctx.setLineDash([9 * unit, 5 * unit]);
      Object.assign(ctx, { lineCap: "butt", strokeStyle: COLOURS["works-planned"], lineWidth: width, globalAlpha: 0.55 });
      ctx.stroke(path);
    }

    // A line along either side.
    protected(ctx, path, width, unit) {
      Object.assign(ctx, { lineCap: "round", strokeStyle: COLOURS["works-protected"], lineWidth: width });
      ctx.stroke(path);
      Object.assign(ctx, { strokeStyle: COLOURS.ground, lineWidth: width - 4 * unit });
      ctx.stroke(path);
    }

    // A row of dots.
    resurfaced(ctx, path, width, unit) {
      ctx.setLineDash([0.01, width + 2 * unit]);
      Object.assign(ctx, { lineCap: "round", strokeStyle: COLOURS["works-resurfaced"], lineWidth: width, globalAlpha: 0.6 });
      ctx.stroke(path);
    }
  }

  // A layer of tiles for each kind that there is.
  function layers(map, tiles) {
    map.createPane("works").style.zIndex = 240;
    return KINDS.filter((kind) => page.works.some((one) => one.kind === kind)).map((kind) => {
      const bands = new Bands(map, kind);
      return { kind, bands, layer: new tiles.PaintedTiles(bands, { pane: "works" }) };
    });
  }

  return { layers };
})();
