"use strict";
// The panel beside the map, and the page's header: title, notes, districts with their orders.
const KerfbookPanel = (() => {
  const { say, pieces, number, date, dayOf, lower } = KerfbookWords;
  const { byId, el, quoted, button } = KerfbookElements;
  const { STATUSES, tally } = KerfbookSymbols;
  // What fills each district's entry when it is opened: a large programme has thousands of order lines.
  const unfilled = new Map();
  const ORDER_COLUMNS = ["item", "needed", "order", "surplus", "bags"];

  function setUpHeader(page) {
    byId("title").append(quoted(page.title));
    const day = el("time", "", date(dayOf(page.asOf)));
    day.dateTime = page.asOf;
    byId("as-of").append(...pieces("header.as_of", { day, n: page.cores }));
    byId("crs").append(...pieces("about.crs", { crs: quoted(page.crs) }));
    byId("roads-note").textContent = page.roads.drawn < page.roads.all ? say("about.roads", { n: page.roads.drawn, all: page.roads.all }) : "";
    byId("sources").append(...page.sources.map((source) => el("li", "", quoted(source))));
    byId("sources-title").hidden = !page.sources.length;
  }

  function setUpNotes(page) {
    const unplaced = page.unplaced.reduce((a, b) => a + b, 0);
    const note = byId("unplaced-note");
    note.hidden = !unplaced;
    note.append(el("strong", "", say("unplaced.count", { n: unplaced })), ` ${say("unplaced.why", { n: unplaced })} `);
    note.append(button(say("unplaced.see"), () => {
      byId("unplaced").open = true;
      byId("unplaced").scrollIntoView({ block: "nearest" });
      byId("unplaced").querySelector("summary").focus();
    }));
    byId("unplaced").hidden = !unplaced;
    byId("unplaced").querySelector("summary").append(say("unplaced.title", { n: unplaced }));
    byId("cautions").hidden = !page.cautions.length;
    byId("cautions").querySelector("ul").append(...page.cautions.map((caution) => el("li", "", quoted(caution))));
  }

  function orderTable(lines) {
    const text = (value) => (typeof value === "number" ? number(value) : quoted(value));
    const cell = (value) => el("td", "number", value === null ? "–" : text(value));
    const rows = [];
    let current;
    for (const [period, item, unit, needed, order, surplus, bags] of lines) {
      if (period !== current) {
        const head = el("th", "period", period === null ? say("orders.no_period") : text(period));
        head.colSpan = ORDER_COLUMNS.length;
        head.scope = "colgroup";
        rows.push(el("tr", "", head));
        current = period;
      }
      const what = el("td", "", item === null ? "–" : text(item), unit === null ? null : el("span", "unit", ", ", text(unit)));
      rows.push(el("tr", "", what, cell(needed), cell(order), cell(surplus), cell(bags)));
    }
    const heads = ORDER_COLUMNS.map((name, h) => {
      const head = el("th", h > 0 ? "number" : "", say(`orders.${name}`));
      head.scope = "col";
      return head;
    });
    return el("div", "scroll", el("table", "orders", el("thead", "", el("tr", "", ...heads)), el("tbody", "", ...rows)));
  }

  function setUpDistricts(page, filter, showDistrict) {
    const counts = new Map();
    const entries = page.districts.map((district) => {
      const name = district.name === null ? say("districts.none") : quoted(district.name);
      const body = el("div", "district-body");
      const count = el("span", "", tally(district.counts));
      counts.set(district.name, count);
      const entry = el("details", "district", el("summary", "", el("span", "district-name", name), count), body);
      unfilled.set(entry, () => fillDistrict(body, district, page.hasOrders, showDistrict));
      entry.addEventListener("toggle", () => { if (entry.open) fill(entry); });
      return entry;
    });
    if (!page.hasOrders) byId("districts-title").textContent = say("districts.title_alone");
    byId("districts").append(...(entries.length ? entries : [el("p", "", say("districts.empty"))]));
    filter.onChange(() => {
      byId("orders-note").hidden = !page.hasOrders || !filter.isAsking();
      const found = filter.byDistrict();
      counts.forEach((count, name) => count.replaceChildren(tally(found.get(name) || [0, 0, 0])));
    });
  }

  function fill(entry) {
    unfilled.get(entry)?.();
    unfilled.delete(entry);
  }

  function fillDistrict(body, district, hasOrders, showDistrict) {
    if (hasOrders) body.append(district.orders.length ? orderTable(district.orders) : el("p", "", say("orders.nothing")));
    if (district.bounds) body.append(button(say("districts.show"), () => showDistrict(district)));
  }

  // On a small screen the panel opens and closes.
  function setUpSwitch(filter) {
    const panelSwitch = byId("panel-switch");
    const [counts, word] = [el("span", ""), el("span", "word", say("panel.open"))];
    const update = () => counts.replaceChildren(tally(filter.byStatus().all));
    filter.onChange(update);
    update();
    panelSwitch.append(counts, word);
    panelSwitch.addEventListener("click", () => {
      const isOpen = document.body.classList.toggle("panel-open");
      panelSwitch.setAttribute("aria-expanded", String(isOpen));
      word.textContent = say(isOpen ? "panel.close" : "panel.open");
    });
    byId("panel").addEventListener("keydown", ({ key }) => { if (key === "Escape") closeOnPhone(); });
  }

  // A panel that closes takes no focus with it.
  function closeOnPhone() {
    if (!document.body.classList.contains("panel-open")) return;
    const hasFocus = byId("panel").contains(document.activeElement);
    byId("panel-switch").click();
    if (hasFocus) byId("panel-switch").focus({ preventScroll: true });
  }

  // On a low screen the head is one line, and the rest of it behind a button.
  function setUpHead() {
    const headSwitch = byId("head-switch");
    headSwitch.addEventListener("click", () => {
      const isOpen = document.body.classList.toggle("head-open");
      headSwitch.setAttribute("aria-expanded", String(isOpen));
      if (!isOpen) window.scrollTo(0, 0);
    });
  }

  function closeHead() {
    if (document.body.classList.contains("head-open")) byId("head-switch").click();
  }

  // Past the head, for whoever goes by keyboard: to the map or table, and to the list, legend and filter.
  function setUpSkips(map) {
    const skip = (id, toWhat) => byId(id).addEventListener("click", (event) => {
      // Where the page goes to is no address: that keeps filter and place.
      event.preventDefault();
      toWhat().focus();
    });
    skip("skip-map", () => (byId("table-view").hidden ? map.getContainer() : byId("table-view").querySelector(".scroll")));
    skip("skip-panel", () => {
      if (!byId("panel").getClientRects().length) byId("panel-switch").click();
      return byId("panel");
    });
  }

  // What covers the map on a small screen goes out of its way.
  function makeRoom() {
    closeHead();
    closeOnPhone();
  }

  function showInView(counts, isFar) {
    const parts = STATUSES.map((status, s) => say("view.count", { n: counts[s], status: lower(status.label) })).join(say("lists.between"));
    byId("in-view").textContent = say(isFar ? "view.streets" : "view.cores", { counts: parts });
  }

  return { setUpHeader, setUpNotes, fill, setUpDistricts, setUpSwitch, setUpHead, setUpSkips, makeRoom, showInView };
})();
