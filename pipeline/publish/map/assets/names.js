"use strict";
// The names on the map, placed anew for each view: each district once, each street once along its longest visible
// stretch, the main roads first; never under a symbol, never over another name.
const KerfbookNames = (() => {
  const { page } = KerfbookWords;
  const { COLOURS, sizeOf } = KerfbookSymbols;
  const { Taken, Stretch, clip, placeAlong, placeLevel, draw, shortened } = KerfbookLettering;
  const WORLD = 2 ** 30;
  // By class of road, main roads first.
  const FONTS = ["600 12px", "500 11.5px", "500 11px", "500 10.5px"];
  const WORKS_FONT = "italic 500 11px";
  const WORKS_AWAY = [17, -17, 28, -28];
  const DISTRICT_FONTS = ["600 14px", "600 12px"];
  // Smaller, for a street that has no room for its name otherwise.
  const SMALL_FONT = "500 10px";
  // Pixels between the edge of a road and the middle of the letters beside it.
  const BESIDE = 7.5;
  // From the edge of a symbol on the road to the middle of the letters.
  const PAST_SYMBOLS = 8;
  // A road this wide, without a colour that tells something, has room for its name inside.
  const INSIDE = 7;
  // Half the width, in pixels, from which a coloured street makes a name across it hard to read.
  const WIDE = 2;
  // With more lines in view there is no room between them.
  const MOST_WIDE = 2500;
  // Names that are tried, and stretches of each: beyond that they would be crumbs.
  const MOST_TRIED = 900;
  const MOST_STRETCHES = 4;
  // Clear of the grid's ticks.
  const EDGE = 20;
  const CONTROL_STEP = 12;
  // Milliseconds after a movement.
  const PAUSE = 60;

  class Names {
    // shown() is which layers are on the map: { roads, districts, works }.
    constructor(map, { roads, cores, tiles, shown }) {
      Object.assign(this, { map, roads, cores, tiles, shown, lines: null, placed: [] });
      const pane = map.createPane("names");
      pane.classList.add("leaflet-zoom-hide");
      Object.assign(pane.style, { zIndex: 455, pointerEvents: "none" });
      this.canvas = document.createElement("canvas");
      this.canvas.setAttribute("aria-hidden", "true");
      this.canvas.style.position = "absolute";
      pane.append(this.canvas);
      this.waiting = 0;
      map.on("moveend resize layeradd layerremove", () => this.later());
      this.later();
    }

    later() {
      clearTimeout(this.waiting);
      this.waiting = setTimeout(() => this.repaint(), PAUSE);
    }

    // The view as a box to paint; its width and height are whole pixels of the screen.
    view() {
      const { map, tiles } = this;
      const unit = tiles.unit();
      const { x, y } = map.getPixelBounds().min;
      const size = map.getSize();
      return { left: x * unit, top: y * unit, width: size.x * unit, height: size.y * unit, zoom: tiles.tileZoom(), unit };
    }

    repaint() {
      const { canvas, map } = this;
      const box = this.view();
      const ratio = window.devicePixelRatio || 1;
      canvas.width = Math.round((box.width / box.unit) * ratio);
      canvas.height = Math.round((box.height / box.unit) * ratio);
      canvas.style.width = `${canvas.width / ratio}px`;
      canvas.style.height = `${canvas.height / ratio}px`;
      L.DomUtil.setPosition(canvas, map.containerPointToLayerPoint([0, 0]));
      const ctx = canvas.getContext("2d");
      ctx.scale(ratio / box.unit, ratio / box.unit);
      const taken = new Taken();
      this.takeControls(taken);
      this.placed = this.paintOn(ctx, box, this.shown(), taken);
    }

    // Paints the names of a box, on the screen or on paper, as the roads and cores paint theirs; what is taken already, in
    // pixels of the screen from the box's corner, is left free. shown: whether roads and districts are named, and the bands of works that are.
    paintOn(ctx, box, shown, taken = new Taken()) {
      const found = this.place(box, shown, taken);
      ctx.save();
      ctx.scale(box.unit, box.unit);
      found.forEach((one) => draw(ctx, one, COLOURS[one.colour]));
      ctx.restore();
      return found;
    }

    place(box, shown, taken) {
      taken.keepInside(box.width / box.unit, box.height / box.unit);
      this.takeSymbols(box, taken);
      // Where a name is tried, the better first.
      const free = [...new Set([shown.roads ? this.clearOf(box, taken) : taken, taken])];
      const found = [];
      if (shown.districts) this.placeDistricts(box, free, found);
      if (shown.roads) this.placeStreets(box, free, found);
      for (const bands of shown.works) this.placeWorks(bands, box, taken, found);
      return found;
    }

    toScreen({ left, top, zoom, unit }) {
      const scale = (256 * 2 ** zoom) / WORLD;
      return ([x, y]) => [(x * scale - left) / unit, (y * scale - top) / unit];
    }

    // What lies over the map: buttons, the overview, coordinates, the figures of the grid.
    takeControls(taken) {
      for (const { x, y, half, isUpright } of KerfbookGrid.labelsOnScreen()) {
        for (let along = -half; along <= half; along += half / 3) taken.add(...(isUpright ? [x, y + along] : [x + along, y]), CONTROL_STEP / 2);
      }
      const map = this.map.getContainer().getBoundingClientRect();
      for (const control of this.map.getContainer().querySelectorAll(".leaflet-control")) {
        const { left, top, right, bottom } = control.getBoundingClientRect();
        for (let x = left; x <= right; x += CONTROL_STEP) {
          for (let y = top; y <= bottom; y += CONTROL_STEP) taken.add(x - map.left, y - map.top, CONTROL_STEP / 2);
        }
      }
    }

    takeSymbols(box, taken) {
      const toScreen = this.toScreen(box);
      const { cores } = this;
      const radius = cores.radius(box.zoom);
      for (const i of cores.drawnIn(box, 2 * radius * box.unit)) taken.add(...toScreen([cores.x[i], cores.y[i]]), radius * sizeOf(cores.level(i)) + 1.5);
    }

    // A district is named at its label or, where that is taken, at the nearest free spot inside it.
    placeDistricts(box, free, named) {
      const { unit, zoom } = box;
      const [width, height] = [box.width / unit, box.height / unit];
      const onScreen = ([lat, lng]) => {
        const { x, y } = this.map.project([lat, lng], zoom);
        return [(x - box.left) / unit, (y - box.top) / unit];
      };
      for (const district of page.districts) {
        if (!district.label) continue;
        const [[south, west], [north, east]] = district.bounds;
        const [[left, low], [right, high]] = [onScreen([south, west]), onScreen([north, east])];
        const text = shortened(district.name);
        const room = right - left;
        if (room < 40 || left > width || right < 0 || high > height || low < 0) continue;
        const widest = Math.max(...text.split(" ").map((word) => KerfbookLettering.widthOf(word, DISTRICT_FONTS[0])));
        if (widest > room) continue;
        const spots = [district.label, ...(district.spots || [])].map(onScreen);
        const on = { spots, fonts: DISTRICT_FONTS, width, height };
        const half = KerfbookLettering.widthOf(text, DISTRICT_FONTS[0]) / 2;
        const inside = spots.filter(([x]) => x - half >= left && x + half <= right);
        const found = placeLevel(text, { ...on, spots: inside, taken: free[0] }) ?? placeLevel(text, { ...on, taken: free.at(-1) });
        if (found) named.push({ ...found, colour: "district-name", kind: "district" });
      }
    }

    // Works are named where there is room left, further from the road than its own name.
    placeWorks({ kind, works }, box, taken, named) {
      const toScreen = this.toScreen(box);
      const [width, height] = [box.width / box.unit, box.height / box.unit];
      for (const { name, lines } of works) {
        if (!name) continue;
        const runs = lines.flatMap((line) => clip(line.map(toScreen), width, height, EDGE)).map((run) => new Stretch(run));
        runs.sort((a, b) => b.length - a.length);
        const found = placeAlong(shortened(name), { runs: runs.slice(0, MOST_STRETCHES), font: WORKS_FONT, offsets: WORKS_AWAY, taken });
        if (found) named.push({ ...found, colour: `works-${kind}`, kind: "works" });
      }
    }

    placeStreets(box, free, named) {
      this.lines ??= new KerfbookStreetLines.StreetLines(this.roads);
      const { roads, lines } = this;
      const scale = (256 * 2 ** box.zoom) / WORLD;
      const seen = new Map();
      for (const i of roads.within(box.left / scale, box.top / scale, (box.left + box.width) / scale, (box.top + box.height) / scale)) {
        const street = lines.codes[i];
        if (street < 0) continue;
        const l = 4 * i;
        const reach = (roads.lines[l + 2] - roads.lines[l] + roads.lines[l + 3] - roads.lines[l + 1]) * scale;
        const before = seen.get(street);
        if (!before) seen.set(street, { street, rank: roads.rank[i], reach, half: roads.halfWidth(i, box.zoom), isQuiet: roads.isQuiet(i, box.zoom) });
        else {
          before.rank = Math.min(before.rank, roads.rank[i]);
          before.reach += reach;
          before.half = Math.max(before.half, roads.halfWidth(i, box.zoom));
          before.isQuiet &&= roads.isQuiet(i, box.zoom);
        }
      }
      const wanted = [...seen.values()].filter(({ reach }) => reach > 30 * box.unit).sort((a, b) => a.rank - b.rank || b.reach - a.reach || a.street - b.street);
      wanted.slice(0, MOST_TRIED).forEach((one) => this.placeStreet(one, box, free, named));
    }

    // The same as taken, with the wide coloured streets: names keep clear of these where there is another place.
    clearOf(box, taken) {
      const { roads } = this;
      const scale = (256 * 2 ** box.zoom) / WORLD;
      const found = roads.within(box.left / scale, box.top / scale, (box.left + box.width) / scale, (box.top + box.height) / scale);
      if (found.length > MOST_WIDE) return taken;
      const toScreen = this.toScreen(box);
      const [width, height] = [box.width / box.unit, box.height / box.unit];
      const wide = new Taken();
      wide.keepInside(width, height);
      for (const i of found) {
        const half = roads.halfWidth(i, box.zoom);
        if (half < WIDE || roads.isQuiet(i, box.zoom)) continue;
        for (const run of clip(roads.lineOf(i).map(toScreen), width, height, 0)) {
          const stretch = new Stretch(run);
          for (let along = 0; along <= stretch.length; along += half) wide.add(...stretch.at(along), half);
        }
      }
      return { isFree: (x, y, r) => taken.isFree(x, y, r) && wide.isFree(x, y, r), add: (x, y, r) => taken.add(x, y, r) };
    }

    placeStreet({ street, rank, half, isQuiet }, box, free, named) {
      const toScreen = this.toScreen(box);
      const [width, height] = [box.width / box.unit, box.height / box.unit];
      const runs = this.lines.of(street).flatMap((line) => clip(line.map(toScreen), width, height, EDGE)).map((run) => new Stretch(run));
      runs.sort((a, b) => b.length - a.length);
      // Next to the line, or past the symbols that lie on it.
      const [next, past] = [half + BESIDE, this.cores.radius(box.zoom) + PAST_SYMBOLS];
      const beside = [next, -next, past, -past, past + 4, -past - 4, past + 9, -past - 9];
      // On the line itself only where its colour tells nothing.
      const offsets = !isQuiet ? beside : half >= INSIDE ? [0, ...beside] : [...beside, 0];
      const text = shortened(this.lines.names[street]);
      const on = { runs: runs.slice(0, MOST_STRETCHES), offsets };
      let found = null;
      for (const taken of free) for (const font of [FONTS[rank], SMALL_FONT]) found ??= placeAlong(text, { ...on, taken, font });
      if (found) named.push({ ...found, colour: "street-name", kind: "street" });
    }
  }

  return { Names };
})();
