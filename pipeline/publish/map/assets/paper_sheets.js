"use strict";
// Sheets of paper: a map of the view, or a numbered map and its list for each street or district.
// All is measured in the page before it is printed, so that a sheet holds its map entirely and a list is broken where we say.
const KerfbookPaperSheets = (() => {
  const { page, say, pieces, date, dayOf, lower } = KerfbookWords;
  const { byId, el, quoted } = KerfbookElements;
  const { STATUSES, badgeBox } = KerfbookSymbols;
  const PX_PER_MM = 96 / 25.4;
  const MARGIN_MM = 11;
  // Left free at the foot of a page: print lays letters out a little differently from the screen.
  const SLACK_MM = 3;
  const SIZES_MM = { A4: [210, 297], Letter: [215.9, 279.4] };
  const RADIUS = 5.5;
  // Shares of the page's height that a map takes: at least, above a list that continues on the next page; and the most that
  // its height may be of its width.
  const LEAST_MAP = 0.34;
  const LONG_LIST_MAP = 0.46;
  const MOST_MAP = 0.9;
  // A street with one core still gets some road around it, in metres.
  const LEAST_SPAN_M = 120;
  // Rows of a printed table at most: about forty sheets.
  const MOST_ROWS = 1000;
  const WORLD = 2 ** 30;
  // Symbols are stamped as they are close by.
  const CLOSE = 18;
  const EARTH = 40075016.686;

  // What a page holds inside its margins, in pixels of the page; of an unknown paper, what both hold.
  function room(paper, isWide) {
    const sizes = paper ? [SIZES_MM[paper]] : Object.values(SIZES_MM);
    const inside = (side) => Math.min(...sizes.map((size) => size[side])) - 2 * MARGIN_MM;
    const [short, long] = [inside(0), inside(1)];
    const [width, height] = isWide ? [long, short] : [short, long];
    return { width: Math.floor(width * PX_PER_MM), height: Math.floor((height - SLACK_MM) * PX_PER_MM) };
  }

  // The height that parts take at a width, laid out as on paper but not shown.
  function measured(width, parts, look) {
    const box = byId("paper-page");
    const trial = el("section", "sheet", ...parts);
    box.style.width = `${width}px`;
    box.classList.add("measuring");
    box.append(trial);
    const found = look ? look(trial) : trial.getBoundingClientRect().height;
    trial.remove();
    box.classList.remove("measuring");
    box.style.width = "";
    return found;
  }

  // A sheet no wider than it was measured: a browser may lay a page out a little wider than the paper, and shrink it again.
  function sheetOf(width, ...parts) {
    const made = el("section", "sheet", ...parts);
    made.style.maxWidth = `${width}px`;
    return made;
  }

  const statusCounts = (counts) => STATUSES.map((status, s) => say("view.count", { n: counts[s], status: lower(status.label) })).join(say("lists.between"));

  function sources() {
    if (!page.sources.length) return null;
    const line = el("p", "paper-sources", say("view.data"));
    page.sources.forEach((source, s) => line.append(s ? say("lists.sources") : "", quoted(source)));
    return line;
  }

  function shown(filter) {
    return el("p", "paper-filter", say("paper.shown", { filter: KerfbookFilterWords.inWords(filter) }), ". ",
      filter.isAsking() ? say("filter.matching", { n: filter.total, all: filter.cores.all }) : say("filter.all", { n: filter.cores.all }), ".");
  }

  const title = () => [el("h1", "", quoted(page.title)), el("p", "", ...pieces("header.as_of", { day: date(dayOf(page.asOf)), n: page.cores }))];

  // The map of the view on one sheet: what the text leaves free is the map's.
  function ofView({ view, layers, filter }, { paper, isWide }) {
    const { width, height } = room(paper, isWide);
    const { cores } = layers;
    const unplaced = filter.byStatus().unplaced.reduce((a, b) => a + b, 0);
    const parts = (frame) => {
      const held = KerfbookPaperLegend.heldIn(cores, frame);
      const lines = KerfbookPaperMap.linesOn(layers, frame, held.stage !== KerfbookCores.STAGES.all);
      const counted = el("p", "paper-counts", say("paper.on_sheet", { counts: statusCounts(held.counts) }), unplaced ? ` ${say("paper.off", { n: unplaced })}` : "");
      return [[...title(), shown(filter), counted], [KerfbookPaperLegend.draw(held, lines), sources()]];
    };
    // The counts follow from the map's box and its box from the room that they leave: a first look with the whole page.
    const guess = KerfbookPaperMap.boxOfView(view, width, height, layers);
    const left = height - measured(width, parts(guess).flat());
    const frame = KerfbookPaperMap.boxOfView(view, width, Math.max(Math.round(height * LEAST_MAP), Math.floor(left)), layers);
    const [above, below] = parts(frame);
    return sheetOf(width, ...above, KerfbookPaperMap.draw(frame, layers), ...below);
  }

  function limits({ x, y }, placed) {
    const [xs, ys] = [x, y].map((all) => placed.map((i) => all[i]));
    const least = (values) => values.reduce((a, b) => Math.min(a, b));
    const most = (values) => values.reduce((a, b) => Math.max(a, b));
    const middle = (least(ys) + most(ys)) / 2;
    const span = (LEAST_SPAN_M / EARTH) * WORLD * Math.cosh(Math.PI * (1 - (2 * middle) / WORLD));
    const wide = (values) => {
      const [a, b] = [least(values), most(values)];
      const more = Math.max(0, span - (b - a)) / 2;
      return [a - more, b + more];
    };
    const [[west, east], [north, south]] = [wide(xs), wide(ys)];
    return [west, north, east, south];
  }

  // A map of the cores of a sheet alone, each with its number, the numbers that found no room, and the legend.
  function numbered(group, placed, { width, height }, layers) {
    const { cores, roads, allRoads } = layers;
    const frame = KerfbookPaperMap.boxOfLimits(limits(cores, placed), width, height, 40);
    const { canvas, ctx } = KerfbookPaperMap.begin(frame);
    const band = group.street ? allRoads.linesOfStreet(group.street) : [];
    KerfbookPaperMap.paintBand(ctx, band, frame);
    KerfbookPaperMap.paintWorks(ctx, layers, frame);
    if (roads) paintQuiet(ctx, roads, frame);
    KerfbookPaperMap.paintOutlines(ctx, layers, frame);
    const spots = group.cores.map((i) => (i < cores.count ? frame.spot(cores.x[i], cores.y[i]) : null));
    group.cores.map((i, c) => [i, spots[c]]).filter(([, spot]) => spot).sort((a, b) => cores.level(b[0]) - cores.level(a[0]))
      .forEach(([i, [x, y]]) => cores.stamp(ctx, i, CLOSE, x, y, RADIUS, KerfbookPaperMap.RATIO));
    const badges = group.cores.map((i, c) => (spots[c] ? badgeBox(cores.level(i), RADIUS, spots[c]) : null)).filter((box) => box);
    const { labels, without } = KerfbookPaperNumbers.paint(ctx, spots, RADIUS + 1, frame, badges);
    KerfbookPaperMap.paintNames(ctx, layers, frame, taken(spots, [...labels.map(({ box }) => box), ...badges]));
    KerfbookPaperMap.finish(ctx, frame);
    const lines = { ...KerfbookPaperMap.linesOn(layers, frame, false), hasBand: band.length > 0 };
    return { canvas, without, legend: KerfbookPaperLegend.draw(KerfbookPaperLegend.heldBy(cores, placed), lines) };
  }

  // Every core of a sheet has its symbol: no street is coloured for the cores on it, whatever the scale.
  function paintQuiet(ctx, roads, frame) {
    const from = roads.nearFrom;
    roads.nearFrom = 0;
    KerfbookPaperMap.stretched(ctx, frame, () => roads.paint(ctx, frame.box));
    roads.nearFrom = from;
  }

  // What names of streets have to leave free: the symbols, and the boxes of their numbers and badges.
  function taken(spots, boxes) {
    const found = new KerfbookLettering.Taken();
    spots.forEach((spot) => { if (spot) found.add(...spot, RADIUS + 2); });
    boxes.forEach(({ left, right, top, bottom }) => { for (let x = left; x <= right; x += 4) found.add(x, (top + bottom) / 2, (bottom - top) / 2); });
    return found;
  }

  function headOf(group, place, isFirst) {
    const where = [...group.authorities.slice(0, 3), ...group.districts.slice(0, 3)].flatMap((text, t) => [t ? " · " : "", quoted(text)]);
    const name = el("div", "", el(isFirst ? "h1" : "h2", "", quoted(group.title), isFirst ? "" : ` ${say("paper.continued")}`), el("p", "", ...where, where.length ? " · " : "", date(dayOf(page.asOf)), " · ", quoted(page.title)));
    return el("header", "paper-head", name, el("p", "paper-place", say("paper.sheet", { s: place.sheet, of: place.sheets }), el("br", ""), say("paper.page", { p: place.page, of: place.pages })));
  }

  // The rows of a group, with a heading for each street of a district.
  function rowsOf(group, attributes) {
    const rows = [];
    let street;
    group.cores.forEach((i, c) => {
      const name = attributes.text("street", i);
      if (group.hasHeadings && name !== street) rows.push(KerfbookPaperList.street(attributes, name));
      street = name;
      rows.push(KerfbookPaperList.row(attributes, i, c + 1, { metresAlong: group.metresAlong }));
    });
    return rows;
  }

  // Rows broken into pages by their heights; the heading of a street goes on with it, and is never last.
  function broken(rows, heights, firstRoom, nextRoom) {
    const pages = [[]];
    let left = firstRoom;
    let heading = null;
    rows.forEach((row, r) => {
      const isHeading = row.className === "paper-street";
      const needed = heights[r] + (isHeading && r + 1 < rows.length ? heights[r + 1] : 0);
      if (needed > left && (pages[pages.length - 1].length || pages.length === 1)) {
        pages.push([]);
        left = nextRoom;
        if (heading && !isHeading) {
          pages[pages.length - 1].push(heading.row.cloneNode(true));
          left -= heading.height;
        }
      }
      if (isHeading) heading = { row, height: heights[r] };
      pages[pages.length - 1].push(row);
      left -= heights[r];
    });
    return pages;
  }

  // What the list leaves of one page, if that is enough for a map; of a longer list, half a page.
  function heightOfMap({ width, height }, left) {
    return left < height * LEAST_MAP ? height * LONG_LIST_MAP : Math.min(left, width * MOST_MAP);
  }

  // The pages of one group: the map is as high as the list leaves room for on one page, if that is enough for a map.
  function ofGroup(group, { layers, filter }, { paper, isWide, sheet, sheets }) {
    const { width, height } = room(paper, isWide);
    const { attributes } = filter;
    const { cores } = layers;
    const placed = group.cores.filter((i) => i < cores.count);
    const above = (place) => [headOf(group, place, true),
      el("p", "paper-filter", say("paper.on_list", { n: group.cores.length, counts: statusCounts(held.counts) }), " ", say("paper.shown", { filter: KerfbookFilterWords.inWords(filter) }), "."),
      KerfbookPaperList.first(attributes, group.cores)];
    const held = KerfbookPaperLegend.heldBy(cores, group.cores);
    const most = { levels: new Set(), works: layers.works.map(({ kind }) => kind), hasRoads: true, hasOutlines: true, hasBand: true };
    const fullLegend = () => (placed.length ? KerfbookPaperLegend.draw(held, most) : null);
    const trial = { sheet, sheets, page: 1, pages: 1 };
    const rows = rowsOf(group, attributes);
    const { heights, headHeight } = measured(width, [KerfbookPaperList.table(attributes, rows)], (section) => ({
      heights: rows.map((row) => row.getBoundingClientRect().height), headHeight: section.querySelector("thead").getBoundingClientRect().height + 8 }));
    const text = measured(width, [...above(trial), fullLegend(), sources()]) + 24;
    const listed = heights.reduce((a, b) => a + b, headHeight);
    const mapHeight = placed.length ? Math.floor(heightOfMap({ width, height }, height - text - listed)) : 0;
    const laterHead = measured(width, [headOf(group, trial, false)]);
    const pages = broken(rows, heights, height - text - mapHeight - headHeight, height - laterHead - headHeight);
    const map = placed.length ? numbered(group, placed, { width, height: mapHeight }, layers) : null;
    return pages.map((some, p) => {
      const place = { sheet, sheets, page: p + 1, pages: pages.length };
      const list = some.length ? KerfbookPaperList.table(attributes, some) : null;
      if (p > 0) return sheetOf(width, headOf(group, place, false), list);
      const missing = map?.without.length ? el("p", "paper-note", say("paper.no_room", { n: map.without.length })) : null;
      return sheetOf(width, ...above(place), map?.canvas, map?.legend, missing, list, sources());
    });
  }

  // The table as it is sorted on the screen, hazards first; the browser breaks it, and repeats its head.
  function ofTable({ filter, sorted }) {
    const { attributes } = filter;
    const { hazard } = attributes.cores;
    const order = KerfbookSorting.byKey(sorted, (i) => 1 - hazard[i]);
    const rows = Array.from(order.subarray(0, MOST_ROWS), (i) => KerfbookPaperList.row(attributes, i, 0, { list: KerfbookPaperList.TABLE }));
    const counted = order.length ? say("table.shown", { from: 1, to: rows.length, n: order.length }) : say("lists.none");
    return el("section", "sheet", ...title(), shown(filter), el("p", "paper-counts", counted),
      rows.length ? KerfbookPaperList.table(attributes, rows, KerfbookPaperList.TABLE) : null, sources());
  }

  // The strips of the street sheet, none broken across sheets.
  function ofStrips({ filter, strips }, way) {
    return el("section", "sheet", ...title(), shown(filter), ...strips.onPaper(way === "landscape"), sources());
  }

  return { ofView, ofGroup, ofTable, ofStrips };
})();
