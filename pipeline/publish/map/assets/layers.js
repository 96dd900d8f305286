"use strict";
// The other layers of the map: roads, district outlines, a background picture; scale and credits.
const KerfbookLayers = (() => {
  const { page, say } = KerfbookWords;
  const { byId, el, quoted, tickBox } = KerfbookElements;
  const { roundLength } = KerfbookUnits;

  function setUpDistricts(map) {
    if (!page.hasDistricts) return null;
    const labelled = page.districts.filter((district) => district.label);
    // A quiet tint along either side of the outline.
    const tint = L.geoJSON(geo_json_districts.toGeoJSON(), { interactive: false, style: { weight: 8, opacity: 0.1 } });
    const colour = () => [geo_json_districts, tint].forEach((layer) => layer.setStyle({ color: KerfbookSymbols.COLOURS["district-line"] }));
    colour();
    KerfbookSymbols.onScheme(colour);
    const group = L.layerGroup([tint, geo_json_districts]).addTo(map);
    return { group, outlines: geo_json_districts, labelled };
  }

  // Off until asked for; if it fails, the map goes on without it.
  function background(map) {
    const pane = map.createPane("background");
    pane.style.zIndex = 200;
    const layer = L.tileLayer(page.background.url, { pane: "background", maxZoom: 22, maxNativeZoom: 19 });
    let hasAny = false;
    layer.on("tileload", () => { hasAny = true; });
    layer.on("tileerror", () => { if (!hasAny) layer.remove(); });
    return layer;
  }

  // Leaflet's scale in the reader's units and numbers.
  const Scale = L.Control.Scale.extend({
    _updateMetric(most) {
      const { metres, text } = roundLength(most);
      this._updateScale(this._mScale, text, metres / most);
    },
    redraw() { this._update(); },
  });

  function setUp(map, roadTiles, works) {
    const districts = setUpDistricts(map);
    const box = byId("layers");
    const add = (layer, key, className, isOn) => box.append(tickBox(isOn, (isWanted) => (isWanted ? layer.addTo(map) : layer.remove()),
      el("span", `key ${className}`), el("span", "what", say(key))));
    add(roadTiles, "legend.roads", "road", true);
    works.forEach(({ kind, layer }) => add(layer.addTo(map), `legend.works_${kind}`, `works-${kind}`, true));
    if (districts) add(districts.group, "legend.outlines", "outline", true);
    if (page.background) add(background(map), "legend.background", "background", false);
    const scale = new Scale({ imperial: false, maxWidth: 120 }).addTo(map);
    const credits = [...page.sources, ...(page.background?.credit ? [page.background.credit] : [])];
    const credit = L.control({ position: "bottomright" });
    credit.onAdd = () => {
      const line = el("div", "credit", say("view.data"));
      credits.forEach((source, s) => line.append(s ? say("lists.sources") : "", quoted(source)));
      return line;
    };
    if (credits.length) credit.addTo(map);
    return { districts, scale };
  }

  return { setUp };
})();
