"use strict";
// What is drawn on the map, kept up to date: after a filter, a zoom, a change of colours.
const KerfbookPicture = (() => {
  const { page } = KerfbookWords;

  function setUp(map, { cores, roads, tiles, layers, bundle, network, hasDistricts }) {
    const { coreLayer, roadLayer, works } = layers;
    const levels = new KerfbookStreetLevels.StreetLevels(roads, cores, bundle);
    const updateLegend = KerfbookLegend.setUp({ cores, roads, hasRoads: () => map.hasLayer(roadLayer) });
    const names = new KerfbookNames.Names(map, { roads, cores, tiles, shown: () => ({ roads: map.hasLayer(roadLayer), districts: hasDistricts(), works: works.filter(({ layer }) => map.hasLayer(layer)).map(({ bands }) => bands) }) });
    const follow = () => updateLegend(tiles.tileZoom());
    const repaint = () => {
      coreLayer.repaint();
      roadLayer.repaint();
      names.later();
    };
    if (bundle.has("state")) {
      cores.learnStates(bundle.how("state").words, () => bundle.codes("state"), page.states);
      if (cores.hasMarks(tiles.tileZoom())) coreLayer.repaint();
    }
    KerfbookGrid.setUp(map);
    const measure = new KerfbookMeasure.Measure(map);
    const locator = new KerfbookLocator.Locator(map, roads, network);
    map.on("zoomend layeradd layerremove", follow);
    KerfbookSymbols.onScheme(() => {
      repaint();
      works.forEach(({ layer }) => layer.repaint());
    });
    follow();
    return {
      names,
      measure,
      locator,
      filtered(isAsking) {
        levels.update(isAsking);
        cores.fit(isAsking);
        roads.nearFrom = cores.symbolZoom;
        repaint();
        follow();
      },
    };
  }

  return { setUp };
})();
