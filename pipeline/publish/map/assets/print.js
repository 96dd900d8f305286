"use strict";
// Printing: what was chosen is built when the browser is about to print, and taken away afterwards.
const KerfbookPrint = (() => {
  const { page, pieces } = KerfbookWords;
  const { byId } = KerfbookElements;
  const { FONT } = KerfbookSymbols;
  const WORLD = 2 ** 30;
  // What a browser's own command prints: the map or the table, on the paper and either way up that the browser chooses.
  const AS_SHOWN = { what: null, paper: null, way: null, hasTotals: false };

  // What runs on over several pages without a heading on each.
  const RUNNING = new Set(["table", "strips"]);
  const COUNTERS = ["counter(page)", "counter(pages)"];

  // The size of the paper, for the browser; the policy of the page allows no style elements.
  const sizeSheet = new CSSStyleSheet();
  document.adoptedStyleSheets = [...document.adoptedStyleSheets, sizeSheet];

  class Printing {
    constructor(map, { layersShown, roads, filter, table, strips }) {
      Object.assign(this, { map, layersShown, roads, filter, table, strips, job: AS_SHOWN });
      this.keepSize();
      map.on("resize moveend", () => this.keepSize());
    }

    // A map that is not on the screen has no size: its last one is kept.
    keepSize() {
      const { x, y } = this.map.getSize();
      if (x > 0 && y > 0) this.size = { x, y };
    }

    // What is on the screen, as one can print it.
    shown() { return !byId("table-view").hidden ? "table" : this.strips.isShown() ? "strips" : "map"; }

    // What the sheets are made from.
    given() {
      const worldOf = (latlng) => {
        const { x, y } = this.map.project(latlng, 0);
        return [(x / 256) * WORLD, (y / 256) * WORLD];
      };
      const view = { centre: worldOf(this.map.getCenter()), size: this.size, zoom: this.map.getZoom() };
      return { view, layers: { ...this.layersShown(), allRoads: this.roads, worldOf }, filter: this.filter };
    }

    sheets() {
      const { paper, way, hasTotals } = this.job;
      const what = this.job.what ?? this.shown();
      const given = this.given();
      if (what === "strips") return [KerfbookPaperSheets.ofStrips({ filter: this.filter, strips: this.strips }, way)];
      if (what === "table") return [KerfbookPaperSheets.ofTable({ filter: this.filter, sorted: this.table.sorted() }), ...(hasTotals ? totals() : [])];
      const isWide = way === "landscape";
      if (what !== "map") {
        const groups = KerfbookPaperGroups.all(this.filter, this.roads, what);
        return groups.flatMap((group, g) => KerfbookPaperSheets.ofGroup(group, given, { paper, isWide, sheet: g + 1, sheets: groups.length }));
      }
      // Which way up is not known before the browser prints: both are drawn, and the style sheet shows the one that fits.
      const ways = way ? [isWide] : [false, true];
      const drawn = ways.map((wide) => {
        const sheet = KerfbookPaperSheets.ofView(given, { paper, isWide: wide });
        if (!way) sheet.classList.add(wide ? "wide" : "upright");
        return sheet;
      });
      return [...drawn, ...(hasTotals ? totals() : [])];
    }

    build() {
      const { paper, way, what, hasTotals } = this.job;
      const size = paper ? `@page { size: ${paper} ${way}; margin: 11mm; }` : "";
      sizeSheet.replaceSync(size + (hasTotals || RUNNING.has(what ?? this.shown()) ? numberedPages() : ""));
      document.documentElement.classList.add("has-paper");
      byId("paper-page").replaceChildren(...this.sheets());
    }

    clear() {
      this.job = AS_SHOWN;
      sizeSheet.replaceSync("");
      document.documentElement.classList.remove("has-paper");
      byId("paper-page").replaceChildren();
    }

    print(job) {
      this.job = job;
      window.print();
    }
  }

  // At the foot of each page, its number; a browser that knows no margin boxes leaves it out.
  function numberedPages() {
    const content = pieces("paper.page", { p: COUNTERS[0], of: COUNTERS[1] }).map((piece) => (COUNTERS.includes(piece) ? piece : JSON.stringify(piece))).join(" ");
    return `@page { @bottom-right { content: ${content}; font: 10px ${FONT}; } }`;
  }

  // Totals and orders of each district and the cautions, as in the panel.
  function totals() {
    const parts = [byId("districts-section"), ...(page.cautions.length ? [byId("cautions")] : [])];
    document.querySelectorAll("details.district").forEach((details) => KerfbookPanel.fill(details));
    return parts.map((part) => {
      const copy = part.cloneNode(true);
      for (const each of [copy, ...copy.querySelectorAll("*")]) {
        each.removeAttribute("id");
        if (each instanceof HTMLDetailsElement) each.open = true;
      }
      copy.classList.add("paper-totals");
      return copy;
    });
  }

  function setUp(map, parts) {
    const printing = new Printing(map, parts);
    window.addEventListener("beforeprint", () => printing.build());
    window.addEventListener("afterprint", () => printing.clear());
    KerfbookPrintDialog.setUp(parts.filter, printing);
    return printing;
  }

  return { setUp };
})();
