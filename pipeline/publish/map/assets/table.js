"use strict";
// The same cores as a table: works by keyboard and screen reader, and needs no map.
const KerfbookTable = (() => {
  const { page: facts, say, shortDate } = KerfbookWords;
  const { byId, el, quoted, button } = KerfbookElements;
  const { STATUSES, icon } = KerfbookSymbols;
  const PAGE = 50;
  // Findings come early, where a narrow screen still shows them.
  const COLUMNS = ["core", "status", "state", "urgency", "findings", "street", "district", "surface", "chainage", "opened", "reinstated"];
  // A column of the table is left out where the file does not hold the column it shows.
  const SHOWS = { state: "state", urgency: "urgency", chainage: "chainage_m", surface: "surface", opened: "opened_on", reinstated: "reinstated_at" };

  // Words of ours, sorted by what they mean.
  const OURS = { urgency: facts.urgencies, state: facts.states };

  class Table {
    constructor(filter, openCore) {
      Object.assign(this, { filter, openCore, attributes: filter.attributes, sortedBy: "core", isDown: false, page: 0, order: null });
      this.columns = COLUMNS.filter((name) => !SHOWS[name] || this.attributes.has(SHOWS[name]));
      if (this.columns.includes("urgency")) this.sortedBy = "urgency";
      this.head = el("tr", "");
      this.body = el("tbody", "");
      this.rowsShown = el("p", "");
      this.rowsShown.setAttribute("role", "status");
      this.before = button(say("table.before"), () => this.turn(-1));
      this.after = button(say("table.after"), () => this.turn(1));
      const scroll = el("div", "scroll", el("table", "cores-table", el("caption", "unseen", say("table.caption")), el("thead", "", this.head), this.body));
      scroll.tabIndex = 0;
      scroll.setAttribute("role", "region");
      scroll.setAttribute("aria-label", say("table.caption"));
      byId("table-view").append(el("h2", "", say("table.title")), el("div", "table-steps", this.rowsShown, this.before, this.after), scroll);
      filter.onChange(() => { this.order = null; this.page = 0; this.show(); });
    }

    isShown() { return !byId("table-view").hidden; }

    // What a column is sorted by: a number, NaN last; of texts, the rank of the text.
    key(name) {
      const { attributes } = this;
      const { bundle } = attributes;
      if (name === "status") return attributes.cores.status;
      if (name === "opened") return attributes.opened;
      if (name === "reinstated") return attributes.reinstated;
      if (name === "chainage") return bundle.numbers("chainage_m");
      if (name === "findings") return Int32Array.from({ length: attributes.cores.all }, (_, i) => attributes.firstFinding[i] - attributes.firstFinding[i + 1]);
      const { words } = bundle.how(name);
      if (OURS[name]) return Float64Array.from(bundle.codes(name), (code) => (OURS[name].includes(words[code]) ? OURS[name].indexOf(words[code]) : NaN));
      const rank = new Float64Array(words.length + 1).fill(NaN);
      words.map((word, w) => [word, w]).sort((a, b) => (a[0] < b[0] ? -1 : a[0] > b[0] ? 1 : 0)).forEach(([, w], r) => { rank[w] = r; });
      return Float64Array.from(bundle.codes(name), (code) => (code < 0 ? NaN : rank[code]));
    }

    sorted() {
      if (this.order) return this.order;
      const row = this.attributes.bundle.ints("row");
      const inRows = KerfbookSorting.byKey(this.filter.indices(), (i) => row[i], this.isDown && this.sortedBy === "core");
      const key = this.sortedBy === "core" ? null : this.key(this.sortedBy);
      this.order = key ? KerfbookSorting.byKey(inRows, (i) => key[i], this.isDown) : inRows;
      return this.order;
    }

    sortBy(name) {
      this.isDown = this.sortedBy === name && !this.isDown;
      Object.assign(this, { sortedBy: name, order: null, page: 0 });
      this.show();
      this.head.querySelector(`[data-column="${name}"] button`).focus();
    }

    turn(by) {
      this.page += by;
      this.show();
    }

    heads() {
      return this.columns.map((name) => {
        const head = el("th", "", button(say(`table.${name}`), () => this.sortBy(name), "sort"));
        head.scope = "col";
        head.dataset.column = name;
        if (name === this.sortedBy) head.setAttribute("aria-sort", this.isDown ? "descending" : "ascending");
        return head;
      });
    }

    row(i) {
      const { attributes } = this;
      const { status, unsure, hazard } = attributes.cores;
      const ours = (name) => {
        const found = attributes.text(name, i);
        return el("td", "word", found === null ? "–" : OURS[name].includes(found) ? say(`${name}.${found}`) : quoted(found));
      };
      const text = (name) => {
        const found = attributes.text(name, i);
        return el("td", "", found === null ? "–" : quoted(found));
      };
      const day = (value) => el("td", "number", Number.isNaN(value) ? "–" : shortDate(value));
      const chainage = KerfbookUnits.amount(attributes.number("chainage_m", i), "m");
      const head = el("th", "", button(quoted(attributes.id(i)), () => this.openCore(i), "link"));
      head.scope = "row";
      const findings = attributes.findings(i);
      const cells = {
        core: head,
        status: el("td", "status-cell", icon(status[i], unsure[i] === 1, hazard[i] === 1), " ", STATUSES[status[i]].label, attributes.isPlaced(i) ? null : el("span", "off", ` ${say("table.unplaced")}`)),
        state: ours("state"),
        urgency: ours("urgency"),
        findings: el("td", "wrong", findings.length ? KerfbookFindings.list(findings) : "–"),
        street: text("street"),
        chainage: el("td", "number", chainage ?? "–"),
        district: text("district"),
        surface: text("surface"),
        opened: day(attributes.opened[i]),
        reinstated: day(attributes.reinstated[i]),
      };
      return el("tr", "", ...this.columns.map((name) => cells[name]));
    }

    show() {
      if (!this.isShown()) return;
      const order = this.sorted();
      const pages = Math.max(1, Math.ceil(order.length / PAGE));
      this.page = Math.min(this.page, pages - 1);
      const from = this.page * PAGE;
      this.head.replaceChildren(...this.heads());
      this.body.replaceChildren(...Array.from(order.subarray(from, from + PAGE), (i) => this.row(i)));
      this.rowsShown.textContent = order.length
        ? say("table.shown", { from: from + 1, to: Math.min(order.length, from + PAGE), n: order.length }) : say("lists.none");
      this.before.disabled = this.page === 0;
      this.after.disabled = this.page === pages - 1;
    }
  }

  return { Table };
})();
