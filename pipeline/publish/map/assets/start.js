"use strict";
// Starts the page on the map that folium made: the roads first, then the cores, then everything else.
(() => {
  const { page, say } = KerfbookWords;
  const { byId } = KerfbookElements;
  const map = map_kerfbook;

  // Longer than a frame: a page that is not on the screen has none.
  const HIDDEN = 100;
  // Between two frames of a map that is being dragged there are fewer milliseconds.
  const IDLE = 20;

  // Lets the browser put on the screen what was drawn before the rest is read.
  const pause = () => new Promise((done) => {
    requestAnimationFrame(() => setTimeout(done, 0));
    setTimeout(done, HIDDEN);
  });

  // Far out the streets show the cores on them: they are on the screen while the cores are still being read.
  async function drawFirst(tiles) {
    const add = (painter, pane, mark) => {
      const layer = new tiles.PaintedTiles(painter, { pane });
      layer.once("load", () => performance.mark(mark));
      return layer.addTo(map);
    };
    const roads = new KerfbookRoads.Roads(await KerfbookUnpack.read("road-data"));
    roads.nearFrom = page.zooms.all;
    const roadLayer = add(roads, "roads", "streets-drawn");
    await pause();
    const cores = new KerfbookCores.Cores(await KerfbookUnpack.read("core-data"));
    const coreLayer = add(cores, "cores", "cores-drawn");
    byId("progress").textContent = say("view.reading");
    await pause();
    return { cores, coreLayer, roads, roadLayer };
  }

  // The counts of what is in view, the link, and the list of cores in view where it is open.
  function followView(views, navigation, attributes) {
    const update = () => {
      const counts = navigation.countInView();
      KerfbookPanel.showInView(counts, navigation.isFar() && counts.some((count) => count > 0));
      views.updateLink();
      if (!byId("near").open) return;
      const { found, distance } = navigation.inView();
      // To the thousandth of a pixel.
      const ordered = KerfbookSorting.byKey(found, (i) => Math.round(1000 * distance(i)));
      KerfbookLists.fillPaged(byId("near").lastElementChild, ordered, attributes, (i) => views.openCore(i));
    };
    map.on("moveend", update);
    byId("near").addEventListener("toggle", update);
    return update;
  }

  function setUpPanel(views, navigation, filter, attributes) {
    const { cores } = attributes;
    KerfbookPanel.setUpNotes(page);
    KerfbookPanel.setUpSwitch(filter);
    KerfbookPanel.setUpDistricts(page, filter, (district) => views.onMap(() => map.fitBounds(district.bounds, { padding: [20, 20] })));
    const outside = navigation.countOutside();
    byId("show-cores").hidden = !outside;
    byId("show-cores").textContent = say("view.all", { n: outside });
    byId("show-cores").addEventListener("click", () => views.onMap(() => navigation.showAllCores()));
    byId("show-network").addEventListener("click", () => views.onMap(() => navigation.showNetwork()));
    byId("unplaced").addEventListener("toggle", () => {
      const box = byId("unplaced").lastElementChild;
      if (!byId("unplaced").open || box.childElementCount) return;
      const unplaced = Array.from({ length: cores.all - cores.count }, (_none, u) => cores.count + u);
      KerfbookLists.fillPaged(box, unplaced, attributes, (i) => views.openCore(i));
    });
  }

  // The four answers, the list of what matches, works and the search field: what asks questions of the map.
  function setUpAnswers(views, filter, { attributes, roads, navigation }) {
    const openCore = (i) => views.openCore(i);
    // The road authority and the district that are chosen stay, unless they would leave no core.
    const choose = (question, word) => {
      const { authority, district } = filter.wanted;
      const wanted = { [question]: new Set([word]) };
      filter.askAll({ authority, district, ...wanted });
      if (!filter.total) filter.askAll(wanted);
      views.onMap(() => views.showScope());
      if (question === "street") navigation.markStreet(word);
    };
    views.answers = new KerfbookAnswers.Answers(filter, views);
    views.list = new KerfbookAnswerList.AnswerList(filter, { openCore, showTable: () => views.show("table"), print: () => byId("print").click() });
    KerfbookWorksList.setUp(filter, (id) => choose("works", id));
    KerfbookSearch.setUp(attributes, roads, filter, {
      openCore,
      choose: ({ group, word, n }) => {
        // A street without a core has nothing to filter by.
        if (group === "street" && !n) views.onMap(() => navigation.showStreet(word));
        else choose(group, word);
      },
    });
  }

  // What a first filter reads of all cores, read while nobody waits, one question after another.
  function readAhead(filter) {
    const questions = filter.asked.filter((question) => !KerfbookFilter.RANGES.includes(question) && question !== "open");
    const next = (idle) => {
      while (questions.length && idle.timeRemaining() > IDLE) filter.list(questions.pop());
      if (questions.length) requestIdleCallback(next);
    };
    // Not in every browser.
    if (window.requestIdleCallback) requestIdleCallback(next);
  }

  // The first view is the whole network; a link may ask for another.
  function setUpMap(asked) {
    const network = map.getBounds();
    if (asked.place) map.setView(asked.place.centre, asked.place.zoom, { animate: false });
    if (asked.units) KerfbookUnits.use(asked.units);
    map.attributionControl.setPrefix("Leaflet");
    new ResizeObserver(() => map.invalidateSize({ animate: false })).observe(map.getContainer());
    map.createPane("roads").style.zIndex = 250;
    map.createPane("cores").style.zIndex = 450;
    return network;
  }

  async function start() {
    const asked = KerfbookLink.read(window.location.hash);
    const network = setUpMap(asked);
    KerfbookPanel.setUpHeader(page);
    KerfbookPanel.setUpHead();
    KerfbookPanel.setUpSkips(map);
    const tiles = KerfbookTiles.forMap(map);
    const { cores, coreLayer, roads, roadLayer } = await drawFirst(tiles);
    const bundle = await KerfbookUnpack.read("card-data");
    const readDetails = () => KerfbookUnpack.readMore(bundle, "detail-data");
    // An address may name a core, or ask for what only the details say.
    const hasAddress = Boolean(window.location.hash);
    if (hasAddress) await readDetails();
    const attributes = new KerfbookAttributes.Attributes(bundle, cores);
    const filter = new KerfbookFilter.Filter(cores, attributes);
    const navigation = new KerfbookNavigation.Navigation(map, { cores, roads, tiles, network });
    const cards = new KerfbookCard.Cards(attributes);
    const views = new KerfbookViews.Views({ map, filter, attributes, cards, roads, navigation, closePanel: KerfbookPanel.makeRoom });
    views.selected = views.askedCore(asked.id, asked.row);
    const hasRoads = () => map.hasLayer(roadLayer);
    KerfbookPointerAndKeys.setUp(map, { cores, roads, navigation, popup: views.popup, hasRoads, unmark: () => navigation.unmark() });
    const works = KerfbookWorks.layers(map, tiles);
    const { districts, scale } = KerfbookLayers.setUp(map, roadLayer, works);
    views.scale = scale;
    const picture = KerfbookPicture.setUp(map, { cores, roads, tiles, layers: { coreLayer, roadLayer, works }, bundle, network, hasDistricts: () => !districts || map.hasLayer(districts.group) });
    const updateView = followView(views, navigation, attributes);
    filter.onChange(() => {
      cores.show(filter.shown);
      picture.filtered(filter.isAsking());
      updateView();
    });
    setUpPanel(views, navigation, filter, attributes);
    KerfbookFilterControls.setUp(filter, { saveList: () => views.saveList(), copyLink: () => views.copyLink() });
    setUpAnswers(views, filter, { attributes, roads, navigation });
    if (hasAddress) views.follow(asked);
    else views.useUnits(KerfbookUnits.inUse());
    updateView();
    byId("progress").hidden = true;
    performance.mark("all-usable");
    if (!hasAddress) await readDetails();
    KerfbookPrint.setUp(map, {
      layersShown: () => ({ cores, names: picture.names, works: works.filter(({ layer }) => map.hasLayer(layer)), roads: hasRoads() ? roads : null, districts: districts && map.hasLayer(districts.group) ? districts : null }),
      roads, filter, table: views.table, strips: views.sheet,
    });
    // For whoever looks at the page with developer tools, and for the tests.
    window.kerfbook = { map, cores, roads, attributes, filter, names: picture.names, measure: picture.measure };
    performance.mark("all-read");
    readAhead(filter);
  }

  const carryOut = KerfbookWaiting.hold();
  start().catch((error) => {
    // The list of flagged cores needs no script: it is shown in place of the map.
    document.documentElement.classList.add("plain-only", "failed");
    throw error;
  }).finally(carryOut);
})();
