"use strict";
// Canvas tiles on Leaflet's map: a painter (roads or cores) paints one square at a time.
const KerfbookTiles = (() => {
  const SIDE = 512;

  function forMap(map) {
    // Leaflet lays tiles out at whole zooms and stretches them in between; painted at the stretched size they stay sharp.
    const tileZoom = () => Math.round(map.getZoom());
    const unit = () => 2 ** (tileZoom() - map.getZoom());

    const PaintedTiles = L.GridLayer.extend({
      initialize(painter, options) {
        L.setOptions(this, { tileSize: SIDE, noWrap: true, updateWhenZooming: false, keepBuffer: 1, ...options });
        this.painter = painter;
        this.drawn = new Map();
        this.unit = unit();
        this.on("tileunload", (event) => this.drawn.delete(event.tile));
        map.on("zoomend", () => { if (this.unit !== unit()) this.repaint(); });
      },
      createTile(coords) {
        const tile = document.createElement("canvas");
        this.drawn.set(tile, coords);
        this.paintTile(tile, coords);
        return tile;
      },
      paintTile(tile, coords) {
        // Setting the width also clears the canvas.
        tile.width = tile.height = Math.round((SIDE * (window.devicePixelRatio || 1)) / unit());
        const ratio = tile.width / SIDE;
        const ctx = tile.getContext("2d");
        ctx.scale(ratio, ratio);
        this.painter.paint(ctx, { left: coords.x * SIDE, top: coords.y * SIDE, width: SIDE, height: SIDE, zoom: coords.z, ratio, unit: unit() });
      },
      repaint() {
        this.unit = unit();
        this.drawn.forEach((coords, tile) => this.paintTile(tile, coords));
      },
    });

    return { tileZoom, unit, PaintedTiles };
  }

  return { forMap };
})();
