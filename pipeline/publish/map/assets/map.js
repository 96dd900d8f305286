"use strict";
// Brings the parts together on the map that folium made: the cores first, then the roads, then all that is said of them.
(async () => {
  const { page, say } = KerfbookWords;
  const { byId, button, announce } = KerfbookDom;
  const { Filter } = KerfbookFilter;
  const WORLD = 2 ** 30;
  const CLOSE = 18;
  const map = map_kerfbook;
  const first = map.getBounds();
  const asked = KerfbookLink.read(window.location.hash);
  if (asked.place) map.setView(asked.place.centre, asked.place.zoom, { animate: false });
  if (asked.units) KerfbookMeasures.use(asked.units);
  map.attributionControl.setPrefix("Leaflet");
  KerfbookPanel.setUpHeader(page);
  new ResizeObserver(() => map.invalidateSize({ animate: false })).observe(map.getContainer());

  const tiles = KerfbookTiles.forMap(map);
  map.createPane("roads").style.zIndex = 250;
  map.createPane("cores").style.zIndex = 450;
  const cores = new KerfbookCores.Cores(await KerfbookUnpack.read("core-data"));
  const coreTiles = new tiles.PaintedTiles(cores, { pane: "cores" });
  coreTiles.once("load", () => {
    performance.mark("cores-drawn");
    byId("progress").textContent = say("view.reading");
  });
  coreTiles.addTo(map);

  // A pause lets the browser put the cores on the screen before the rest is read.
  const pause = () => new Promise((done) => { setTimeout(done, 0); });
  await pause();
  const roads = new KerfbookRoads.Roads(await KerfbookUnpack.read("road-data"));
  const roadTiles = new tiles.PaintedTiles(roads, { pane: "roads" }).addTo(map);
  await pause();
  const attributes = new KerfbookAttributes.Attributes(await KerfbookUnpack.read("card-data"), cores);
  const filter = new Filter(cores, attributes);
  const cards = new KerfbookCard.Cards(attributes);
  let selected = asked.row === null ? -1 : attributes.ofRow(asked.row);

  function latLngAt(x, y) {
    return map.unproject([(x / WORLD) * 256, (y / WORLD) * 256], 0);
  }

  function limitsOf(from, to, isWanted) {
    let [west, north, east, south] = [WORLD, WORLD, 0, 0];
    for (let i = from; i < to; i += 1) {
      if (!isWanted(i)) continue;
      [west, east] = [Math.min(west, cores.x[i]), Math.max(east, cores.x[i])];
      [north, south] = [Math.min(north, cores.y[i]), Math.max(south, cores.y[i])];
    }
    return west > east ? null : L.latLngBounds(latLngAt(west, south), latLngAt(east, north));
  }

  function showRun([from, to]) {
    const bounds = limitsOf(from, to, (i) => cores.shown[i]);
    const zoom = Math.max(map.getZoom() + 1, Math.min(CLOSE, map.getBoundsZoom(bounds, false, L.point(40, 40))));
    map.setView(bounds.getCenter(), zoom);
  }

  // The street stays marked until the next click on the map.
  const marked = L.polyline([], { color: "#1d5a85", weight: 7, opacity: 0.4, interactive: false });

  function showStreet(street) {
    KerfbookPanel.closeOnPhone();
    view(false);
    marked.setLatLngs(roads.linesOfStreet(street).map((line) => line.map(([x, y]) => latLngAt(x, y)))).addTo(map);
    map.fitBounds(marked.getBounds(), { maxZoom: CLOSE, padding: [40, 40], animate: false });
  }

  const isTable = () => !byId("table-view").hidden;
  const tellLink = KerfbookLink.follow(state, follow);

  function state() {
    const { lat, lng } = map.getCenter();
    return { filter, centre: [lat, lng], zoom: map.getZoom(), row: selected < 0 ? null : attributes.row(selected), isTable: isTable(), units: KerfbookMeasures.inUse() };
  }

  function select(i) {
    selected = i ?? -1;
    tellLink();
  }

  const pointer = new KerfbookPointer.Pointer(map, {
    cores, roads, attributes, cards, tiles, select,
    hasRoads: () => map.hasLayer(roadTiles),
    moveTo: showRun,
    unmark: () => marked.remove(),
  });

  function openDialog(i) {
    const show = attributes.isPlaced(i) ? button(say("view.show_core"), () => {
      byId("dialog").close();
      view(false);
      openCore(i);
    }) : null;
    byId("dialog").replaceChildren(cards.build(i), ...[show, button(say("view.close"), () => byId("dialog").close())].filter(Boolean));
    byId("dialog").dataset.place = String(i);
    if (!byId("dialog").open) byId("dialog").showModal();
    select(i);
  }
  byId("dialog").addEventListener("close", () => select(null));

  function openCore(i) {
    KerfbookPanel.closeOnPhone();
    if (isTable() || !attributes.isPlaced(i)) {
      openDialog(i);
      return;
    }
    map.setView(attributes.latLng(i), Math.max(map.getZoom(), CLOSE), { animate: false });
    pointer.openHits([i]);
  }

  function tellView() {
    const counts = pointer.countInView();
    KerfbookPanel.showInView(counts, pointer.isFar() && counts.some((count) => count > 0));
    tellLink();
    if (!byId("near").open) return;
    const { found, distance } = pointer.inView();
    // To the thousandth of a pixel.
    const ordered = KerfbookOrder.byKey(found, (i) => Math.round(1000 * distance(i)));
    KerfbookLists.fillPaged(byId("near").lastElementChild, ordered, attributes, openCore);
  }

  const table = new KerfbookTable.Table(filter, openCore);

  function view(asTable) {
    byId("table-view").hidden = !asTable;
    byId("map-area").hidden = asTable;
    byId("as-table").setAttribute("aria-pressed", String(asTable));
    byId("as-map").setAttribute("aria-pressed", String(!asTable));
    table.show();
    if (!asTable) map.invalidateSize({ animate: false });
    tellLink();
  }

  function measure(units) {
    KerfbookMeasures.use(units);
    byId("in-us").setAttribute("aria-pressed", String(units === "us"));
    byId("in-metric").setAttribute("aria-pressed", String(units !== "us"));
    pointer.redraw();
    scale.tell();
    if (byId("dialog").open) openDialog(Number(byId("dialog").dataset.place));
    table.show();
    tellLink();
  }

  // An address that was opened or typed: its filter, place, units and core.
  function follow({ place, wanted, row, isTable: asTable, units }) {
    filter.askAll(wanted);
    if (units) measure(units);
    view(asTable);
    if (place) map.setView(place.centre, place.zoom, { animate: false });
    const i = row === null ? -1 : attributes.ofRow(row);
    if (i >= 0 && (asTable || !attributes.isPlaced(i))) openDialog(i);
    else if (i >= 0) pointer.openHits([i]);
  }

  async function copyLink() {
    const address = `${window.location.href.split("#")[0]}${KerfbookLink.write(state())}`;
    await KerfbookCard.copyText(address);
    announce(say("filter.linked"));
  }

  function saveList() {
    KerfbookSheet.save(attributes, filter.places());
    announce(say("filter.saved", { n: filter.total }));
  }

  function setUpButtons() {
    let outside = 0;
    const [low, high] = [first.getSouthWest(), first.getNorthEast()].map((corner) => map.project(corner, 0).multiplyBy(WORLD / 256));
    for (let i = 0; i < cores.count; i += 1) {
      if (cores.x[i] < low.x || cores.x[i] > high.x || cores.y[i] < high.y || cores.y[i] > low.y) outside += 1;
    }
    byId("show-network").addEventListener("click", () => { KerfbookPanel.closeOnPhone(); map.fitBounds(first, { animate: false }); });
    byId("show-cores").hidden = !outside;
    byId("show-cores").textContent = say("view.all", { n: outside });
    byId("show-cores").addEventListener("click", () => {
      KerfbookPanel.closeOnPhone();
      map.fitBounds(limitsOf(0, cores.count, () => true), { padding: [40, 40] });
    });
    byId("near").addEventListener("toggle", tellView);
    byId("unplaced").addEventListener("toggle", () => {
      const box = byId("unplaced").lastElementChild;
      if (byId("unplaced").open && !box.childElementCount) {
        KerfbookLists.fillPaged(box, Array.from({ length: cores.all - cores.count }, (_, u) => cores.count + u), attributes, openCore);
      }
    });
    byId("as-map").addEventListener("click", () => view(false));
    byId("as-table").addEventListener("click", () => view(true));
    byId("in-metric").addEventListener("click", () => measure("metric"));
    byId("in-us").addEventListener("click", () => measure("us"));
  }

  filter.onChange(() => {
    cores.show(filter.shown);
    coreTiles.repaint();
    tellView();
  });
  const { districts, scale } = KerfbookLayers.setUp(map, roadTiles, filter);
  KerfbookPanel.setUpNotes(page);
  KerfbookPanel.setUpSwitch(filter);
  KerfbookPanel.setUpDistricts(page, filter, (district) => {
    KerfbookPanel.closeOnPhone();
    view(false);
    map.fitBounds(district.bounds, { padding: [20, 20] });
  });
  KerfbookAsk.setUp(filter, { saveList, copyLink });
  KerfbookLists.setUpSearch(attributes, roads, { openCore, showStreet });
  setUpButtons();
  map.on("moveend", tellView);
  KerfbookPaper.setUp(map, () => ({
    cores,
    roads: map.hasLayer(roadTiles) ? roads : null,
    districts: districts && map.hasLayer(districts.group) ? districts : null,
  }), filter);
  if (window.location.hash) follow(asked);
  else measure(KerfbookMeasures.inUse());
  tellView();
  // For whoever looks at the page with developer tools, and for the tests.
  window.kerfbook = { map, cores, roads, attributes, filter };
  byId("progress").hidden = true;
  performance.mark("all-usable");
})().catch((error) => {
  // The list of flagged cores needs no script: it stands in for the map.
  document.documentElement.classList.add("plain-only", "failed");
  throw error;
});
