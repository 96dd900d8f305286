"use strict";
// The other layers of the map: roads, district outlines with their counts, a background picture; scale and credits.
const KerfbookLayers = (() => {
  const { page, say } = KerfbookWords;
  const { byId, el, quoted, tickBox } = KerfbookElements;
  const { tally } = KerfbookSymbols;
  const { roundLength } = KerfbookUnits;
  // On one line, or the counts below the name, or the name alone.
  const LABEL_FORMS = ["line", "stack", "name"];

  function setUpDistricts(map, filter) {
    if (!page.hasDistricts) return null;
    const labelled = page.districts.filter((district) => district.label);
    map.createPane("labels").style.zIndex = 460;
    const counted = labelled.map((district) => el("span", "", tally(district.counts)));
    const markers = labelled.map((district, d) => {
      const body = el("div", "label-body", el("strong", "", quoted(district.name)), counted[d]);
      const shape = L.divIcon({ className: "district-label", html: body, iconSize: [0, 0] });
      return L.marker(district.label, { icon: shape, pane: "labels", interactive: false, keyboard: false });
    });

    // A label that would cover another, or is wider than its district, is not shown at this zoom.
    function thin() {
      const kept = [];
      markers.forEach((marker, m) => {
        const body = marker.getElement()?.firstElementChild;
        if (!body) return;
        body.hidden = false;
        const [south, north] = labelled[m].bounds.map((corner) => map.project(corner));
        const { x, y } = map.project(labelled[m].label);
        const room = north.x - south.x;
        const fitting = LABEL_FORMS.some((form) => {
          body.dataset.form = form;
          const [w, h] = [body.offsetWidth / 2 + 3, body.offsetHeight / 2 + 3];
          const isFree = kept.every((other) => Math.abs(other.x - x) > other.w + w || Math.abs(other.y - y) > other.h + h);
          if (body.offsetWidth > room || !isFree) return false;
          kept.push({ x, y, w, h });
          return true;
        });
        body.hidden = !fitting;
      });
    }

    filter.onChange(() => {
      const found = filter.byDistrict();
      labelled.forEach((district, d) => counted[d].replaceChildren(tally(found.get(district.name) || [0, 0, 0])));
    });
    const group = L.layerGroup([geo_json_districts, ...markers]).addTo(map);
    group.on("add", thin);
    map.on("zoomend resize", thin);
    thin();
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

  function setUp(map, roadTiles, filter) {
    const districts = setUpDistricts(map, filter);
    const box = byId("layers");
    const add = (layer, key, className, isOn) => box.append(tickBox(isOn, (isWanted) => (isWanted ? layer.addTo(map) : layer.remove()),
      el("span", `key ${className}`), el("span", "what", say(key))));
    add(roadTiles, "legend.roads", "road", true);
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
