"use strict";
// Moving the map: to a core, a street, a district, all cores; and what is in view.
const KerfbookNavigation = (() => {
  const WORLD = 2 ** 30;
  const CLOSE = 18;
  const PADDING = 40;
  const MARK = { weight: 7, opacity: 0.4, interactive: false };

  class Navigation {
    constructor(map, { cores, roads, tiles, network }) {
      Object.assign(this, { map, cores, roads, tiles, network });
      // The street stays marked until the next click on the map.
      this.mark = L.polyline([], { ...MARK, color: KerfbookSymbols.COLOURS.accent });
    }

    isFar() { return this.tiles.tileZoom() < this.cores.symbolZoom; }

    latLngAt(x, y) { return this.map.unproject([(x / WORLD) * 256, (y / WORLD) * 256], 0); }

    // The bounds of the wanted cores from one index to another, or null.
    boundsOf(from, to, isWanted) {
      const { x, y } = this.cores;
      let [west, north, east, south] = [WORLD, WORLD, 0, 0];
      for (let i = from; i < to; i += 1) {
        if (!isWanted(i)) continue;
        [west, east] = [Math.min(west, x[i]), Math.max(east, x[i])];
        [north, south] = [Math.min(north, y[i]), Math.max(south, y[i])];
      }
      return west > east ? null : L.latLngBounds(this.latLngAt(west, south), this.latLngAt(east, north));
    }

    showCore(latLng) { this.map.setView(latLng, Math.max(this.map.getZoom(), CLOSE), { animate: false }); }

    markStreet(street) {
      const lines = this.roads.linesOfStreet(street).map((line) => line.map(([x, y]) => this.latLngAt(x, y)));
      this.mark.setLatLngs(lines).addTo(this.map);
    }

    showStreet(street) {
      this.markStreet(street);
      this.map.fitBounds(this.mark.getBounds(), { maxZoom: CLOSE, padding: [PADDING, PADDING], animate: false });
    }

    unmark() { this.mark.remove(); }

    showNetwork() { this.map.fitBounds(this.network, { animate: false }); }

    showAllCores() { this.map.fitBounds(this.boundsOf(0, this.cores.count, () => true), { padding: [PADDING, PADDING] }); }

    // The cores that have a 1 in bytes, or the network where none of them has a position.
    showMatching(bytes) {
      const bounds = this.boundsOf(0, this.cores.count, (i) => bytes[i] === 1);
      if (bounds) this.map.fitBounds(bounds, { maxZoom: CLOSE, padding: [PADDING, PADDING], animate: false });
      else this.showNetwork();
    }

    // How many cores lie outside the first view.
    countOutside() {
      const { x, y, count } = this.cores;
      const [low, high] = [this.network.getSouthWest(), this.network.getNorthEast()].map((corner) => this.map.project(corner, 0).multiplyBy(WORLD / 256));
      let outside = 0;
      for (let i = 0; i < count; i += 1) {
        if (x[i] < low.x || x[i] > high.x || y[i] < high.y || y[i] > low.y) outside += 1;
      }
      return outside;
    }

    // The shown cores in view, by status.
    countInView() {
      const { min, max } = this.map.getPixelBounds();
      return this.cores.countInBox(min.x, min.y, max.x, max.y, this.map.getZoom());
    }

    // The shown cores in view, and the distance of each from the centre of the map in pixels.
    inView() {
      const { map, cores } = this;
      const { min, max } = map.getPixelBounds();
      const centre = map.project(map.getCenter());
      const scale = (256 * 2 ** map.getZoom()) / WORLD;
      const found = [];
      cores.eachInBox(min.x, min.y, max.x, max.y, map.getZoom(), (i) => { found.push(i); });
      return { found, distance: (i) => Math.hypot(cores.x[i] * scale - centre.x, cores.y[i] * scale - centre.y) };
    }

    // The shown core nearest the centre of the map, or -1.
    nearestToCentre() {
      const { found, distance } = this.inView();
      return found.reduce((best, i) => (best < 0 || distance(i) < distance(best) ? i : best), -1);
    }
  }

  return { Navigation };
})();
