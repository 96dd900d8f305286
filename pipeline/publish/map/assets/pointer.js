"use strict";
// What a pointer or a key does on the map, and the cards that it opens there.
const KerfbookPointer = (() => {
  const { say } = KerfbookWords;
  const { byId, el, quoted, button } = KerfbookDom;
  const CLICK_REACH = window.matchMedia("(pointer: coarse)").matches ? 22 : 12;
  const ROAD_REACH = 7;

  class Pointer {
    // on.select(i or null) is told which core's card is open.
    constructor(map, { cores, roads, attributes, cards, tiles, hasRoads, moveTo, select, unmark }) {
      Object.assign(this, { map, cores, roads, attributes, cards, tiles, hasRoads, moveTo, select, unmark });
      this.byKeyboard = false;
      this.open = null;
      // The left padding keeps a card clear of the zoom buttons.
      this.popup = L.popup({ className: "core-popup", closeButton: false, minWidth: 240, autoPanPaddingTopLeft: [54, 12], autoPanPaddingBottomRight: [12, 12] });
      this.popup.on("remove", () => {
        this.open = null;
        this.select(null);
      });
      this.listen();
      this.listenToKeys();
    }

    isFar() { return this.tiles.tileZoom() < this.cores.symbolZoom; }

    // Rings stand on the squares of the tiles' whole zoom.
    ringAt(latlng) {
      const { x, y } = this.map.project(latlng, this.tiles.tileZoom());
      return this.cores.ringAt(x, y, this.tiles.tileZoom(), this.tiles.unit());
    }

    // Leaflet's own is a link to nowhere, which a screen reader would offer as one.
    closer() {
      const made = button("×", () => {
        this.map.closePopup();
        this.map.getContainer().focus({ preventScroll: true });
      }, "closer");
      made.setAttribute("aria-label", say("view.close"));
      return made;
    }

    cardOf(hits, h) {
      this.select(hits[h]);
      this.open = [hits, h];
      const box = el("div", "stack", this.closer());
      box.tabIndex = -1;
      if (hits.length > 1) {
        const step = (by) => {
          this.popup.setContent(this.cardOf(hits, (h + by + hits.length) % hits.length));
          this.popup.getElement().querySelector(by < 0 ? ".before" : ".after").focus();
        };
        box.append(el("div", "step", button(say("view.previous"), () => step(-1), "more before"),
          ` ${say("view.step", { h: h + 1, n: hits.length })} `, button(say("view.next"), () => step(1), "more after")));
      }
      box.append(this.cards.build(hits[h]));
      return box;
    }

    openHits(hits) {
      const size = this.map.getSize();
      this.popup.options.maxWidth = Math.min(340, size.x - 106);
      this.popup.options.maxHeight = Math.max(140, Math.min(560, size.y - 110));
      this.map.closePopup();
      this.popup.setLatLng(this.attributes.latLng(hits[0])).setContent(this.cardOf(hits, 0)).openOn(this.map);
      this.popup.getElement().setAttribute("role", "group");
      this.popup.getElement().setAttribute("aria-label", say("card.dialog"));
      if (this.byKeyboard) this.popup.getElement().querySelector(".stack").focus({ preventScroll: true });
    }

    // The open card again, in other units.
    redraw() {
      if (this.open) this.popup.setContent(this.cardOf(...this.open));
    }

    openRoad(i, latlng) {
      const [street, surface, id] = ["street", "surface", "id"].map((name) => this.roads.textOf(name, i));
      this.popup.options.maxWidth = 260;
      this.map.closePopup();
      this.popup.setLatLng(latlng).setContent(el("div", "stack road-card", this.closer(), el("strong", "", street ? quoted(street) : say("view.no_street")),
        el("span", "", say("view.road_surface"), quoted(surface || say("card.not_known"))),
        el("span", "", say("view.road_id"), quoted(id || say("view.no_road_id"))))).openOn(this.map);
    }

    listen() {
      const { map, cores, roads } = this;
      const tip = L.tooltip({ direction: "top", offset: [0, -8], className: "street-tip" });
      map.on("click", (event) => {
        this.byKeyboard = false;
        this.unmark();
        const { x, y } = map.project(event.latlng);
        const zoom = map.getZoom();
        const ring = this.isFar() ? this.ringAt(event.latlng) : null;
        const hits = this.isFar() ? [] : cores.near(x, y, zoom, CLICK_REACH);
        const road = this.hasRoads() ? roads.nearest(x, y, zoom, ROAD_REACH) : -1;
        if (ring && ring[2] > 1) this.moveTo(ring);
        else if (ring) this.openHits([ring[0]]);
        else if (hits.length) this.openHits(hits);
        else if (road >= 0) this.openRoad(road, event.latlng);
      });
      let last = 0;
      map.on("mousemove", (event) => {
        // Once a frame is enough, and dragging needs the time.
        if (event.originalEvent.buttons || event.originalEvent.timeStamp - last < 30) return;
        last = event.originalEvent.timeStamp;
        const { x, y } = map.project(event.latlng);
        const zoom = map.getZoom();
        const isOver = this.isFar() ? this.ringAt(event.latlng) !== null : cores.near(x, y, zoom, CLICK_REACH).length > 0;
        map.getContainer().classList.toggle("over-core", isOver);
        const road = !isOver && this.hasRoads() ? roads.nearest(x, y, zoom, ROAD_REACH) : -1;
        const street = road < 0 ? null : roads.textOf("street", road);
        if (!street) map.closeTooltip(tip);
        else map.openTooltip(tip.setLatLng(event.latlng).setContent(quoted(street)));
      });
      map.on("mouseout movestart", () => map.closeTooltip(tip));
    }

    countInView() {
      const { min, max } = this.map.getPixelBounds();
      return this.cores.countInBox(min.x, min.y, max.x, max.y, this.map.getZoom());
    }

    inView() {
      const { map, cores } = this;
      const { min, max } = map.getPixelBounds();
      const middle = map.project(map.getCenter());
      const scale = (256 * 2 ** map.getZoom()) / 2 ** 30;
      const found = [];
      cores.eachInBox(min.x, min.y, max.x, max.y, map.getZoom(), (i) => { found.push(i); });
      return { found, distance: (i) => Math.hypot(cores.x[i] * scale - middle.x, cores.y[i] * scale - middle.y) };
    }

    listenToKeys() {
      const { map } = this;
      const box = map.getContainer();
      box.setAttribute("role", "application");
      box.setAttribute("aria-label", say("view.keys"));
      box.addEventListener("keydown", (event) => {
        if (event.key === "Enter" && event.target === box) {
          event.preventDefault();
          this.byKeyboard = true;
          const { found, distance } = this.inView();
          const nearest = found.reduce((best, i) => (best < 0 || distance(i) < distance(best) ? i : best), -1);
          if (nearest >= 0) this.openHits([nearest]);
        } else if (event.key === "Escape") {
          map.closePopup();
          if (event.target !== box) box.focus({ preventScroll: true });
        }
      });
      byId("map-area").querySelectorAll(".leaflet-control-zoom a").forEach((link, l) => {
        const words = say(l ? "view.zoom_out" : "view.zoom_in");
        link.title = words;
        link.setAttribute("aria-label", words);
      });
    }
  }

  return { Pointer };
})();
