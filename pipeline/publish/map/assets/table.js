"use strict";
// The same cores as a table: works by keyboard and screen reader, and needs no map.
const KerfbookTable = (() => {
  const { say } = KerfbookWords;
  const { byId, el, button } = KerfbookElements;
  const PAGE = 50;
  const NARROW = "(max-width: 760px)";

  class Table {
    constructor(filter, openCore) {
      Object.assign(this, { filter, openCore, attributes: filter.attributes, sortedBy: "core", isDown: false, page: 0, order: null });
      // The cores whose findings are open.
      this.opened = new Set();
      this.arrange(window.matchMedia(NARROW).matches);
      if (this.columns.includes("urgency")) this.sortedBy = "urgency";
      this.build();
      filter.onChange(() => { this.order = null; this.page = 0; this.show(); });
      window.matchMedia(NARROW).addEventListener("change", ({ matches }) => {
        this.arrange(matches);
        this.show();
      });
    }

    arrange(isNarrow) { this.columns = KerfbookTableRows.columns(this.attributes, isNarrow); }

    build() {
      this.head = el("tr", "");
      this.body = el("tbody", "");
      this.rowsShown = el("p", "");
      this.rowsShown.setAttribute("role", "status");
      this.before = button(say("table.before"), () => this.turn(-1));
      this.after = button(say("table.after"), () => this.turn(1));
      this.all = button(say("table.open_all"), () => this.toggleAll());
      this.scroll = el("div", "scroll", el("table", "cores-table", el("caption", "unseen", say("table.caption")), el("thead", "", this.head), this.body));
      this.scroll.tabIndex = 0;
      this.scroll.setAttribute("role", "region");
      this.scroll.setAttribute("aria-label", say("table.caption"));
      byId("table-view").append(el("h2", "", say("table.title")), el("div", "table-steps", this.rowsShown, this.all, this.before, this.after), this.scroll);
    }

    isShown() { return !byId("table-view").hidden; }

    sorted() {
      if (this.order) return this.order;
      const row = this.attributes.bundle.ints("row");
      this.order = KerfbookSorting.byKey(this.filter.indices(), (i) => row[i]);
      for (const key of KerfbookTableRows.keys(this.attributes, this.sortedBy)) this.order = KerfbookSorting.byKey(this.order, (i) => key[i], this.isDown);
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
      this.scroll.scrollTop = 0;
    }

    // The indices of the cores on this page of the table.
    onPage() { return this.sorted().subarray(this.page * PAGE, (this.page + 1) * PAGE); }

    toggle(i) {
      if (!this.opened.delete(i)) this.opened.add(i);
      this.show();
      this.body.querySelector(`[data-core="${i}"] .badge`).focus();
    }

    withFindings() {
      const { firstFinding } = this.attributes;
      return [...this.onPage()].filter((i) => firstFinding[i] < firstFinding[i + 1]);
    }

    isAllOpen() { return this.withFindings().every((i) => this.opened.has(i)); }

    toggleAll() {
      const isOpen = this.isAllOpen();
      this.withFindings().forEach((i) => (isOpen ? this.opened.delete(i) : this.opened.add(i)));
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

    rows(i) {
      return KerfbookTableRows.build(this.attributes, i, {
        names: this.columns, isOpen: this.opened.has(i), onCore: () => this.openCore(i), onToggle: () => this.toggle(i),
      });
    }

    show() {
      if (!this.isShown()) return;
      const order = this.sorted();
      const pages = Math.max(1, Math.ceil(order.length / PAGE));
      this.page = Math.min(this.page, pages - 1);
      const from = this.page * PAGE;
      this.head.replaceChildren(...this.heads());
      this.body.replaceChildren(...[...this.onPage()].flatMap((i) => this.rows(i)));
      this.rowsShown.textContent = order.length
        ? say("table.shown", { from: from + 1, to: Math.min(order.length, from + PAGE), n: order.length }) : say("lists.none");
      this.before.disabled = this.page === 0;
      this.after.disabled = this.page === pages - 1;
      this.all.disabled = !this.withFindings().length;
      this.all.setAttribute("aria-pressed", String(!this.all.disabled && this.isAllOpen()));
    }
  }

  return { Table };
})();
