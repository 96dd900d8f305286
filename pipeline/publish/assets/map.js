"use strict";
// Brings the parts together on the map that folium made.
(() => {
  const { STATUSES, el, quoted, tally, readJson, valueAt } = KerfbookDom;
  const WORLD = 2 ** 30;
  const CLOSE = 18;
  const CLICK_REACH = window.matchMedia("(pointer: coarse)").matches ? 22 : 12;
  const ROAD_REACH = 7;
  const LABEL_FORMS = ["line", "stack", "name"];
  const byId = (id) => document.getElementById(id);
  const map = map_kerfbook;
  const page = readJson("page-data");
  const coreData = readJson("core-data");
  const cores = new KerfbookCores.Cores(coreData);
  const roads = new KerfbookRoads.Roads(readJson("road-data"));
  const labelled = page.districts.filter((district) => district.label);
  const statuses = Uint8Array.from(coreData.status, Number);
  // The unplaced follow the placed in every column, the status among them.
  Object.assign(cores, {
    statuses: statuses.length,
    statusOf: (i) => statuses[i],
    statusName: (i) => STATUSES[statuses[i]].name,
  });
  const allCounts = [0, 0, 0];
  statuses.forEach((s) => { allCounts[s] += 1; });

  const { tileZoom, unit, PaintedTiles } = KerfbookTiles.forMap(map);

  function addPane(name, depth) {
    map.createPane(name).style.zIndex = depth;
    return name;
  }

  const roadTiles = new PaintedTiles(roads, { pane: addPane("roads", 250) });
  const coreTiles = new PaintedTiles(cores, { pane: addPane("cores", 450) });

  // One switch a status: the tiles hold all three and are painted again.
  const StatusSwitch = L.Layer.extend({
    initialize(status) { this.status = status; },
    onAdd() { this.turn(true); },
    onRemove() { this.turn(false); },
    turn(isOn) {
      if (cores.shown[this.status] === isOn) return;
      cores.shown[this.status] = isOn;
      coreTiles.repaint();
      tellView();
    },
  });

  function latLngAt(x, y) {
    return map.unproject([(x / WORLD) * 256, (y / WORLD) * 256], 0);
  }

  function districtLabels() {
    const pane = addPane("labels", 460);
    return labelled.map((district) => {
      const body = el("div", "label-body", el("strong", "", quoted(district.name)), tally(district.counts));
      const shape = L.divIcon({ className: "district-label", html: body, iconSize: [0, 0] });
      return L.marker(district.label, { icon: shape, pane, interactive: false, keyboard: false });
    });
  }

  // A label that would cover another, or is wider than its district, stays away at this zoom.
  function thinLabels(markers) {
    const kept = [];
    markers.forEach((marker, m) => {
      const body = marker.getElement()?.firstElementChild;
      if (!body) return;
      body.hidden = false;
      const [south, north] = labelled[m].bounds.map((corner) => map.project(corner));
      const { x, y } = map.project(labelled[m].label);
      const room = north.x - south.x;
      // On one line, else the counts below the name, else the name alone.
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

  function setUpLayers() {
    map.attributionControl.setPrefix("Leaflet");
    const overlays = {};
    STATUSES.forEach((_, s) => {
      overlays[KerfbookPanel.legendName(s, allCounts[s], page.unplaced[s])] = new StatusSwitch(s).addTo(map);
    });
    overlays['<span class="key road"></span><span class="what">Road segments</span>'] = roadTiles.addTo(map);
    let outlines = null;
    if (page.hasDistricts) {
      outlines = geo_json_districts;
      const markers = districtLabels();
      const group = L.layerGroup([outlines, ...markers]);
      group.on("add", () => thinLabels(markers));
      map.on("zoomend resize", () => thinLabels(markers));
      overlays['<span class="key outline"></span><span class="what">District outlines</span>'] = group.addTo(map);
      thinLabels(markers);
    }
    const control = L.control.layers(null, overlays, { collapsed: false }).addTo(map);
    byId("legend").append(control.getContainer());
    const credit = L.control({ position: "bottomright" });
    credit.onAdd = () => {
      const box = el("div", "credit", "Data: ");
      page.sources.forEach((source, s) => box.append(s ? "; " : "", quoted(source)));
      return box;
    };
    if (page.sources.length) credit.addTo(map);
    return outlines;
  }

  let byKeyboard = false;
  // The left padding keeps a card clear of the zoom buttons.
  const popup = L.popup({ className: "core-popup", minWidth: 240, autoPanPaddingTopLeft: [54, 12], autoPanPaddingBottomRight: [12, 12] });

  function cardOf(hits, h) {
    const box = el("div", "stack");
    box.tabIndex = -1;
    if (hits.length > 1) {
      const step = (by) => {
        popup.setContent(cardOf(hits, (h + by + hits.length) % hits.length));
        popup.getElement().querySelector(by < 0 ? ".before" : ".after").focus();
      };
      const before = KerfbookDom.moreButton("‹ Previous", () => step(-1));
      const after = KerfbookDom.moreButton("Next ›", () => step(1));
      before.classList.add("before");
      after.classList.add("after");
      box.append(el("div", "step", before, ` ${h + 1} of ${hits.length} close together `, after));
    }
    box.append(KerfbookCard.build(cores, hits[h]));
    return box;
  }

  function openHits(hits) {
    const size = map.getSize();
    popup.options.maxWidth = Math.min(340, size.x - 106);
    popup.options.maxHeight = Math.max(140, Math.min(560, size.y - 110));
    popup.setLatLng(KerfbookCard.latLngOf(cores, hits[0])).setContent(cardOf(hits, 0)).openOn(map);
    if (byKeyboard) popup.getElement().querySelector(".stack").focus({ preventScroll: true });
  }

  function openCore(i) {
    KerfbookPanel.closeOnPhone();
    if (i >= cores.count) {
      const close = KerfbookDom.moreButton("Close", () => byId("dialog").close());
      byId("dialog").replaceChildren(KerfbookCard.build(cores, i), close);
      byId("dialog").showModal();
      return;
    }
    map.setView(KerfbookCard.latLngOf(cores, i), Math.max(map.getZoom(), CLOSE), { animate: false });
    openHits([i]);
  }

  // The street stays marked until the next click on the map.
  const marked = L.polyline([], { color: "#1d5a85", weight: 7, opacity: 0.4, interactive: false });

  function showStreet(street) {
    KerfbookPanel.closeOnPhone();
    marked.setLatLngs(roads.linesOfStreet(street).map((line) => line.map(([x, y]) => latLngAt(x, y)))).addTo(map);
    map.fitBounds(marked.getBounds(), { maxZoom: CLOSE, padding: [40, 40], animate: false });
  }

  function showRun([from, to]) {
    let [west, north, east, south] = [WORLD, WORLD, 0, 0];
    for (let i = from; i < to; i += 1) {
      [west, east] = [Math.min(west, cores.x[i]), Math.max(east, cores.x[i])];
      [north, south] = [Math.min(north, cores.y[i]), Math.max(south, cores.y[i])];
    }
    const bounds = L.latLngBounds(latLngAt(west, south), latLngAt(east, north));
    const zoom = Math.max(map.getZoom() + 1, Math.min(CLOSE, map.getBoundsZoom(bounds, false, L.point(40, 40))));
    map.setView(bounds.getCenter(), zoom);
  }

  function openRoad(i, latlng) {
    const [street, surface, id] = ["street", "surface", "id"].map((name) => valueAt(roads.data[name], i));
    popup.options.maxWidth = 260;
    popup.setLatLng(latlng).setContent(el("div", "stack road-card", el("strong", "", street ? quoted(street) : "Street without a name"),
      el("span", "", "Surface: ", quoted(surface || "not known")), el("span", "", "Road segment: ", quoted(id || "no id")))).openOn(map);
  }

  const isFar = () => tileZoom() < cores.symbolZoom;

  // Rings stand on the squares of the tiles' whole zoom.
  function ringAt(latlng) {
    const { x, y } = map.project(latlng, tileZoom());
    return cores.ringAt(x, y, tileZoom(), unit());
  }

  function setUpPointer() {
    const tip = L.tooltip({ direction: "top", offset: [0, -8], className: "street-tip" });
    map.on("click", (event) => {
      byKeyboard = false;
      marked.remove();
      const { x, y } = map.project(event.latlng);
      const zoom = map.getZoom();
      const ring = isFar() ? ringAt(event.latlng) : null;
      const hits = isFar() ? [] : cores.near(x, y, zoom, CLICK_REACH);
      const road = map.hasLayer(roadTiles) ? roads.nearest(x, y, zoom, ROAD_REACH) : -1;
      if (ring && ring[1] - ring[0] > 1) showRun(ring);
      else if (ring) openHits([ring[0]]);
      else if (hits.length) openHits(hits);
      else if (road >= 0) openRoad(road, event.latlng);
    });
    map.on("mousemove", (event) => {
      const { x, y } = map.project(event.latlng);
      const zoom = map.getZoom();
      const isOver = isFar() ? ringAt(event.latlng) !== null : cores.near(x, y, zoom, CLICK_REACH).length > 0;
      map.getContainer().classList.toggle("over-core", isOver);
      const road = !isOver && map.hasLayer(roadTiles) ? roads.nearest(x, y, zoom, ROAD_REACH) : -1;
      const street = road < 0 ? null : valueAt(roads.data.street, road);
      if (!street) map.closeTooltip(tip);
      else map.openTooltip(tip.setLatLng(event.latlng).setContent(quoted(street)));
    });
    map.on("mouseout movestart", () => map.closeTooltip(tip));
  }

  function inView() {
    const { min, max } = map.getPixelBounds();
    const middle = map.project(map.getCenter());
    const scale = (256 * 2 ** map.getZoom()) / WORLD;
    const found = [];
    cores.eachInBox(min.x, min.y, max.x, max.y, map.getZoom(), (i) => { if (cores.shown[cores.status[i]]) found.push(i); });
    return { found, distance: (i) => Math.hypot(cores.x[i] * scale - middle.x, cores.y[i] * scale - middle.y) };
  }

  function setUpKeyboard() {
    const box = map.getContainer();
    box.setAttribute("role", "application");
    box.setAttribute("aria-label", "Map of cores. Arrow keys move it, plus and minus zoom, Enter opens the core nearest the middle, Escape closes it.");
    box.addEventListener("keydown", (event) => {
      if (event.key === "Enter" && event.target === box) {
        event.preventDefault();
        byKeyboard = true;
        const { found, distance } = inView();
        const nearest = found.reduce((best, i) => (best < 0 || distance(i) < distance(best) ? i : best), -1);
        if (nearest >= 0) openHits([nearest]);
      } else if (event.key === "Escape") {
        map.closePopup();
        if (event.target !== box) box.focus({ preventScroll: true });
      }
    });
  }

  function tellView() {
    const { found, distance } = inView();
    const counts = [0, 0, 0];
    found.forEach((i) => { counts[cores.status[i]] += 1; });
    KerfbookPanel.showInView(counts, isFar() && found.length > 0);
    if (!byId("near").open) return;
    const ordered = found.map((i) => [distance(i), i]).sort((a, b) => a[0] - b[0]).map((pair) => pair[1]);
    KerfbookLists.fillPaged(byId("near").lastElementChild, ordered, cores, openCore);
  }

  function setUpButtons() {
    const first = map.getBounds();
    const outside = Array.from({ length: cores.count }, (_, i) => i).filter((i) => !first.contains(KerfbookCard.latLngOf(cores, i)));
    byId("show-network").addEventListener("click", () => { KerfbookPanel.closeOnPhone(); map.fitBounds(first, { animate: false }); });
    byId("show-cores").hidden = !outside.length;
    byId("show-cores").textContent = `All placed cores (${outside.length.toLocaleString("en")} outside)`;
    byId("show-cores").addEventListener("click", () => {
      KerfbookPanel.closeOnPhone();
      map.fitBounds(L.latLngBounds(Array.from({ length: cores.count }, (_, i) => KerfbookCard.latLngOf(cores, i))), { padding: [40, 40] });
    });
    byId("near").addEventListener("toggle", tellView);
    byId("unplaced").addEventListener("toggle", () => {
      const box = byId("unplaced").lastElementChild;
      if (byId("unplaced").open && !box.childElementCount) {
        KerfbookLists.fillPaged(box, Array.from({ length: statuses.length - cores.count }, (_, u) => cores.count + u), cores, openCore);
      }
    });
  }

  new ResizeObserver(() => map.invalidateSize({ animate: false })).observe(map.getContainer());
  coreTiles.once("load", () => performance.mark("cores-drawn"));
  KerfbookPanel.setUpHeader(page, allCounts);
  const outlines = setUpLayers();
  coreTiles.addTo(map);
  KerfbookPanel.setUpNotes(page);
  KerfbookPanel.setUpSwitch(allCounts);
  KerfbookPanel.setUpDistricts(page, (district) => {
    KerfbookPanel.closeOnPhone();
    map.fitBounds(district.bounds, { padding: [20, 20] });
  });
  KerfbookLists.setUpSearch(cores, roads, { openCore, showStreet });
  setUpPointer();
  setUpKeyboard();
  setUpButtons();
  map.on("moveend", tellView);
  tellView();
  KerfbookPaper.setUp(map, () => ({
    cores,
    roads: map.hasLayer(roadTiles) ? roads : null,
    outlines: outlines && map.hasLayer(outlines) ? outlines : null,
  }), labelled);
})();
