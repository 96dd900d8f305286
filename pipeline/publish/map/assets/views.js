"use strict";
// What is on the screen: map or table, metric or US units, the open card; and the link that reopens it.
const KerfbookViews = (() => {
  const { say } = KerfbookWords;
  const { byId, button, announce, copyText } = KerfbookElements;

  // What a reader chooses to look at, beside what is asked of it.
  const SCOPE = ["authority", "district", "street", "works", "permit_no"];

  class Views {
    constructor({ map, filter, attributes, cards, roads, navigation, closePanel }) {
      Object.assign(this, { map, filter, attributes, cards, navigation, closePanel, selected: -1 });
      this.popup = new KerfbookPopup.Popup(map, { attributes, cards, roads, onSelect: (i) => this.select(i) });
      filter.onChange(() => this.popup.closeHidden(filter.shown));
      this.table = new KerfbookTable.Table(filter, (i) => this.openCore(i));
      this.sheet = KerfbookStreetSheet.setUp(this, { filter, roads });
      this.updateLink = KerfbookLink.follow(() => this.state(), (asked) => this.follow(asked));
      byId("dialog").addEventListener("close", () => this.select(null));
      byId("as-map").addEventListener("click", () => this.show("map"));
      byId("as-table").addEventListener("click", () => this.show("table"));
      byId("in-metric").addEventListener("click", () => this.useUnits("metric"));
      byId("in-us").addEventListener("click", () => this.useUnits("us"));
    }

    // "map", "table", "streets" or "months".
    view() { return !byId("table-view").hidden ? "table" : this.sheet.isShown() ? this.sheet.name : "map"; }

    state() {
      const { lat, lng } = this.map.getCenter();
      const id = this.selected < 0 ? null : this.attributes.text("core_id", this.selected);
      const row = this.selected < 0 ? null : this.attributes.row(this.selected);
      return { filter: this.filter, centre: [lat, lng], zoom: this.map.getZoom(), id, row, view: this.view(), units: KerfbookUnits.inUse() };
    }

    select(i) {
      this.selected = i ?? -1;
      this.updateLink();
    }

    show(asked) {
      const view = this.sheet.isFor(asked) && !this.sheet.canBeDrawn ? "map" : asked;
      byId("table-view").hidden = view !== "table";
      byId("map-area").hidden = view !== "map";
      byId("as-table").setAttribute("aria-pressed", String(view === "table"));
      byId("as-map").setAttribute("aria-pressed", String(view === "map"));
      this.table.show();
      this.sheet.showAs(view);
      this.answers.update();
      if (view === "map") this.map.invalidateSize({ animate: false });
      if (view === "map" && this.isScopeAwaited) this.showScope();
      this.updateLink();
    }

    // On the map, with the panel out of the way.
    onMap(move) {
      this.closePanel();
      this.show("map");
      move();
    }

    useUnits(units) {
      KerfbookUnits.use(units);
      byId("in-us").setAttribute("aria-pressed", String(units === "us"));
      byId("in-metric").setAttribute("aria-pressed", String(units !== "us"));
      this.popup.redraw();
      this.scale.redraw();
      if (byId("dialog").open) this.openDialog(Number(byId("dialog").dataset.index));
      this.table.show();
      this.sheet.show();
      this.answers.update();
      this.updateLink();
    }

    openDialog(i) {
      const dialog = byId("dialog");
      const close = button(say("view.close"), () => dialog.close());
      const show = this.attributes.isPlaced(i) ? [button(say("view.show_core"), () => {
        dialog.close();
        this.show("map");
        this.openCore(i);
      })] : [];
      dialog.replaceChildren(this.cards.build(i), ...show, close);
      dialog.dataset.index = String(i);
      if (!dialog.open) dialog.showModal();
      this.select(i);
    }

    openCore(i) {
      this.closePanel();
      if (this.view() !== "map" || !this.attributes.isPlaced(i)) {
        this.openDialog(i);
        return;
      }
      this.popup.rememberFocus();
      this.navigation.showCore(this.attributes.latLng(i));
      this.popup.openCores([i]);
    }

    // An address that was opened or typed: its filter, place, units and core. Without a place, what the filter asks
    // for in full: a road authority, a district, a street.
    follow({ place, wanted, id, row, view, units }) {
      this.filter.askAll(wanted);
      if (units) this.useUnits(units);
      this.show(view);
      const i = this.askedCore(id, row);
      if (place) this.map.setView(place.centre, place.zoom, { animate: false });
      else if (i >= 0 && this.attributes.isPlaced(i)) this.navigation.showCore(this.attributes.latLng(i));
      else this.showScope();
      if (i >= 0 && (view !== "map" || !this.attributes.isPlaced(i))) this.openDialog(i);
      else if (i >= 0) this.popup.openCores([i]);
    }

    // The core that an address names, or -1. Earlier maps named it by its row.
    askedCore(id, row) {
      if (id === null) return row === null ? -1 : this.attributes.ofRow(row);
      const found = this.attributes.ofId(id);
      if (!found.length) announce(say("view.no_core", { id }));
      if (found.length > 1) announce(say("view.same_id", { n: found.length, id }));
      return found.length ? found[0] : -1;
    }

    // The map goes to the road authority, district and street that are asked for, or to the network.
    showScope() {
      const { filter, navigation } = this;
      // A map behind another view has no size that a place could be fitted into.
      this.isScopeAwaited = this.view() !== "map";
      if (this.isScopeAwaited) return;
      const scope = Object.fromEntries(SCOPE.map((question) => [question, filter.wanted[question]]));
      if (SCOPE.every((question) => scope[question] === null)) navigation.showNetwork();
      else navigation.showMatching(filter.matching(scope));
    }

    copyLink() {
      return copyText(`${window.location.href.split("#")[0]}${KerfbookLink.write(this.state())}`, say("filter.link_copied"));
    }

    saveList() {
      KerfbookSaveCsv.save(this.attributes, this.filter.indices());
      announce(say("filter.saved", { n: this.filter.total }));
    }
  }

  return { Views };
})();
