"use strict";
// The street sheet: a strip per street, those of the filter only, in an order that the reader chooses. Nothing is worked
// out before the view is first opened.
const KerfbookStreetSheet = (() => {
  const { page, say, number } = KerfbookWords;
  const { byId, el, svg, quoted, button } = KerfbookElements;
  const { RIGHT, band, cutsByStretch, days: dayLines, joints, metreTicks, scaleOf, works } = KerfbookStreetStrip;
  // Strips per page, on the screen and on paper; a page ends earlier where it would hold more cores than this.
  const [PAGE, PRINTED, MOST_CORES] = [10, 60, 4000];
  // Metres up to which a street counts as this long, or a single cut in a short lane would lead the list.
  const LEAST_LENGTH = 100;
  const M_PER_FOOT = 0.3048;
  const [PAPER_WIDTH, PAPER_WIDE] = [700, 1020];
  const ORDERS = ["density", "urgent", "name"];

  class Sheet {
    constructor(filter, roads, { openCore, onChoose, onMonth }) {
      Object.assign(this, { filter, roads, openCore, onChoose, onMonth, attributes: filter.attributes, page: 0, by: "density", isStale: true, name: "streets" });
      this.canBeDrawn = KerfbookAlongStreets.canBeDrawn(roads, this.attributes);
      this.orders = ORDERS.filter((order) => order !== "urgent" || this.attributes.has("urgency"));
      filter.onChange(() => {
        this.isStale = true;
        this.page = 0;
        this.show();
      });
      KerfbookSymbols.onScheme(() => this.show());
      new ResizeObserver(() => { if (Math.abs(this.width() - (this.drawnWidth ?? 0)) > 12) this.show(); }).observe(byId("streets-view"));
    }

    isShown() { return !byId("streets-view").hidden; }

    // Whether the months are on the screen, and not the strips.
    hasMonths() { return this.isShown() && this.name === "months"; }

    isFor(view) { return view === "streets" || view === "months"; }

    showAs(view) {
      if (this.isFor(view)) this.name = view;
      byId("streets-view").hidden = !this.isFor(view);
      byId("as-streets").setAttribute("aria-pressed", String(this.isFor(view)));
      this.show();
    }

    build() {
      const choice = (name) => button(say(`streets.as_${name}`), () => this.onChoose(name));
      this.tabs = new Map([["streets", choice("streets")], ["months", choice("months")]]);
      const tabs = el("span", "tabs", ...this.tabs.values());
      tabs.setAttribute("role", "group");
      tabs.setAttribute("aria-label", say("streets.as"));
      this.select = el("select", "", ...this.orders.map((order) => {
        const option = el("option", "", say(`streets.by_${order}`));
        option.value = order;
        return option;
      }));
      this.select.addEventListener("change", () => {
        Object.assign(this, { by: this.select.value, page: 0, isStale: true });
        this.show();
      });
      this.orderBox = el("label", "order", say("streets.order"), this.select);
      this.rowsShown = el("p", "");
      this.rowsShown.setAttribute("role", "status");
      this.before = button(say("table.before"), () => this.turn(-1));
      this.after = button(say("table.after"), () => this.turn(1));
      this.steps = el("div", "table-steps", this.orderBox, this.rowsShown, this.before, this.after);
      this.title = el("h2", "");
      this.hint = el("p", "hint");
      this.key = KerfbookStreetMarks.key();
      this.box = el("div", "scroll strips");
      byId("streets-view").append(el("div", "streets-head", this.title, tabs), this.steps, this.hint, this.key, this.box);
      this.places = new KerfbookAlongStreets.AlongStreets(this.roads, this.attributes);
      this.days = new KerfbookDaysOfCores.Days(this.attributes);
      this.worksOf = this.readWorks();
    }

    turn(by) {
      this.page += by;
      this.show();
      this.box.scrollTop = 0;
    }

    // The works that each core lies in.
    readWorks() {
      const found = new Map();
      const { bundle } = this.attributes;
      if (!bundle.has("works_id") || !page.works.length) return found;
      const byWord = new Map(page.works.map((one) => [one.id, one]));
      bundle.ints("works_id_core").forEach((core, w) => {
        const one = byWord.get(bundle.text("works_id", w));
        if (one) found.set(core, [...(found.get(core) ?? []), one]);
      });
      return found;
    }

    // The streets of the filter in order, and where the pages begin.
    settle() {
      if (!this.isStale) return;
      this.isStale = false;
      const { places } = this;
      this.grouped = places.group(this.filter.shown);
      const { first } = this.grouped;
      const strips = [];
      for (let s = 0; s < places.strips; s += 1) if (first[s + 1] > first[s]) strips.push(s);
      this.density = (s) => (100 * (first[s + 1] - first[s])) / Math.max(LEAST_LENGTH, places.lengthOfStrip[s]);
      this.urgency = this.attributes.has("urgency") ? places.urgency(this.grouped) : null;
      const name = (s) => places.nameOf(s) ?? "\uffff";
      const inOrder = { density: (s) => [-this.density(s)], urgent: (s) => [this.urgency.rank[s], -this.urgency.number[s]], name: () => [] }[this.by];
      const keys = new Map(strips.map((s) => [s, [...inOrder(s), name(s), s]]));
      const before = (a, b) => {
        const k = keys.get(a).findIndex((key, at) => key !== keys.get(b)[at]);
        return k < 0 ? 0 : keys.get(a)[k] < keys.get(b)[k] ? -1 : 1;
      };
      this.order = strips.sort(before);
      this.starts = [0];
      let held = 0;
      this.order.forEach((s, at) => {
        const count = first[s + 1] - first[s];
        if (at > this.starts.at(-1) && (at - this.starts.at(-1) >= PAGE || held + count > MOST_CORES)) {
          this.starts.push(at);
          held = 0;
        }
        held += count;
      });
    }

    width() { return Math.max(300, byId("streets-view").clientWidth - 48); }

    summary(strip, cores, { most, step }) {
      const length = this.places.lengthOfStrip[strip];
      const isUs = KerfbookUnits.inUse() === "us";
      const density = this.density(strip) * (isUs ? M_PER_FOOT : 1);
      const parts = [
        say("streets.cores_on", { n: cores.length, length: KerfbookUnits.amount(Math.round(length), "m") }),
        say(isUs ? "streets.per_feet" : "streets.per_metres", { v: number(density < 1 ? density : Math.round(10 * density) / 10) }),
      ];
      if (most > 1) parts.push(say("streets.most", { n: most, length: KerfbookUnits.amount(step, "m") }));
      return parts.join(say("streets.between"));
    }

    // How many cores are urgent, the most urgent kind alone.
    urgent(strip) {
      const rank = this.urgency?.rank[strip] ?? page.urgencies.length;
      const name = page.urgencies[rank];
      if (name !== "hazard" && name !== "overdue") return null;
      return el("span", `strip-urgent ${name}`, say(`streets.${name}`, { n: this.urgency.number[strip] }));
    }

    // The works in a strip, each from the first to the last of its cores.
    worksIn(cores) {
      const found = new Map();
      for (const i of cores) {
        for (const one of this.worksOf.get(i) ?? []) {
          const at = this.places.along[i];
          const known = found.get(one.id);
          if (known) [known.from, known.to] = [Math.min(known.from, at), Math.max(known.to, at)];
          else found.set(one.id, { ...one, from: at, to: at });
        }
      }
      return [...found.values()];
    }

    strip(s, width) {
      const { places } = this;
      const cores = this.grouped.of(s);
      const length = places.lengthOfStrip[s];
      // Each street from its own first opening: recent months have room where nothing is older.
      const range = this.days.range(cores);
      const scale = scaleOf(length, width, range, cores.some((i) => this.days.isEarly(i, range[0])));
      const joined = places.joints(s);
      const cuts = cutsByStretch(scale, length, Array.from(cores, (i) => places.along[i]));
      const wide = Math.ceil(scale.end + RIGHT);
      const canvas = svg("svg", { class: "strip", viewBox: `0 0 ${wide} ${scale.high}`, width: wide, height: scale.high, role: "listbox", tabindex: "0" });
      const name = places.nameOf(s);
      canvas.setAttribute("aria-label", say("streets.listbox", { street: name ?? say("view.no_street") }));
      canvas.append(dayLines(scale), works(scale, this.worksIn(cores)), joints(scale, joined), band(scale, length, cuts), metreTicks(scale, length));
      const caption = el("p", "strip-caption");
      const marks = KerfbookStreetMarks.separate(Array.from(cores, (i) => KerfbookStreetMarks.markOf(i, places.along[i], scale, this.days)));
      new KerfbookStreetMarks.Marks(canvas, marks, { scale, days: this.days, caption, openCore: this.openCore }).show(-1);
      const ends = say(joined.isNorthward ? "streets.northward" : "streets.eastward");
      const heading = el("h3", "", name === null ? say("streets.unnamed", { id: places.idOf(s) ?? say("view.no_road_id") }) : quoted(name));
      caption.hidden = true;
      return el("section", "street", el("div", "street-head", heading, this.urgent(s), el("span", "street-facts", this.summary(s, cores, cuts)), el("span", "street-ends", ends)), canvas, caption);
    }

    shownInWords(from, many) {
      return this.order.length ? say("streets.shown", { from: from + 1, to: from + many, n: this.order.length }) : say("lists.none");
    }

    without() { return this.grouped.without ? [el("p", "hint", say("streets.without", { n: this.grouped.without }))] : []; }

    // What the printed sheet holds: the months, or the first strips in the order chosen.
    onPaper(isWide) {
      if (!this.box) this.build();
      if (this.hasMonths()) return [el("p", "hint", say("months.hint")), this.months.build()];
      this.settle();
      const shown = this.order.slice(0, PRINTED);
      return [el("p", "paper-counts", this.shownInWords(0, shown.length)), el("p", "hint", say("streets.hint")), KerfbookStreetMarks.key(),
        ...shown.map((s) => this.strip(s, isWide ? PAPER_WIDE : PAPER_WIDTH)), ...this.without()];
    }

    show() {
      if (!this.isShown()) return;
      if (!this.box) this.build();
      this.tabs.forEach((tab, name) => tab.setAttribute("aria-pressed", String(name === this.name)));
      const isMonths = this.name === "months";
      this.steps.hidden = isMonths;
      this.key.hidden = isMonths;
      this.title.textContent = say(isMonths ? "months.title" : "streets.title");
      this.hint.textContent = isMonths ? `${say("months.hint")} ${say("months.choose")}` : say("streets.hint");
      this.drawnWidth = this.width();
      if (isMonths) {
        this.months ??= new KerfbookMonths.Months(this.filter, this.roads, this.onMonth);
        this.box.replaceChildren(this.months.build());
        return;
      }
      this.settle();
      const pages = this.starts.length;
      this.page = Math.min(this.page, pages - 1);
      const [from, end] = [this.starts[this.page], this.starts[this.page + 1] ?? this.order.length];
      const shown = this.order.slice(from, end);
      this.box.replaceChildren(...shown.map((s) => this.strip(s, this.drawnWidth)), ...this.without());
      this.rowsShown.textContent = this.shownInWords(from, shown.length);
      this.before.disabled = this.page === 0;
      this.after.disabled = this.page === pages - 1;
    }
  }

  function setUp(views, { filter, roads }) {
    const sheet = new Sheet(filter, roads, {
      openCore: (i) => views.openCore(i),
      onChoose: (name) => views.show(name),
      onMonth: (first, last) => {
        filter.ask("opened", [first, last]);
        views.onMap(() => {});
      },
    });
    byId("as-streets").hidden = !sheet.canBeDrawn;
    byId("as-streets").addEventListener("click", () => views.show(sheet.name));
    return sheet;
  }

  return { setUp };
})();
