"use strict";
// The popup on the map: the card of a core, of several at one spot in turn, or a few words about a road segment.
const KerfbookPopup = (() => {
  const { say } = KerfbookWords;
  const { el, quoted, button } = KerfbookElements;

  class Popup {
    // onSelect(i or null) is called with the core whose card is open.
    constructor(map, { attributes, cards, roads, onSelect }) {
      Object.assign(this, { map, attributes, cards, roads, onSelect, open: null });
      // The left padding keeps a card clear of the zoom buttons.
      this.popup = L.popup({ className: "core-popup", closeButton: false, minWidth: 240, autoPanPaddingTopLeft: [54, 12], autoPanPaddingBottomRight: [12, 12] });
      this.popup.on("remove", () => {
        this.open = null;
        this.onSelect(null);
      });
    }

    // Leaflet's own is a link to nowhere, which a screen reader would offer as a link.
    closeButton() {
      const made = button("×", () => {
        this.map.closePopup();
        this.map.getContainer().focus({ preventScroll: true });
      }, "closer");
      made.setAttribute("aria-label", say("view.close"));
      return made;
    }

    // The card of core number h of several.
    content(cores, h) {
      this.onSelect(cores[h]);
      this.open = [cores, h];
      const box = el("div", "stack", this.closeButton());
      box.tabIndex = -1;
      if (cores.length > 1) {
        const step = (by) => {
          this.popup.setContent(this.content(cores, (h + by + cores.length) % cores.length));
          this.popup.getElement().querySelector(by < 0 ? ".before" : ".after").focus();
        };
        box.append(el("div", "step", button(say("view.previous"), () => step(-1), "more before"),
          ` ${say("view.step", { h: h + 1, n: cores.length })} `, button(say("view.next"), () => step(1), "more after")));
      }
      box.append(this.cards.build(cores[h]));
      return box;
    }

    openCores(cores, byKeyboard = false) {
      const size = this.map.getSize();
      this.popup.options.maxWidth = Math.min(340, size.x - 106);
      this.popup.options.maxHeight = Math.max(140, Math.min(640, size.y - 110));
      this.map.closePopup();
      this.popup.setLatLng(this.attributes.latLng(cores[0])).setContent(this.content(cores, 0)).openOn(this.map);
      const element = this.popup.getElement();
      element.setAttribute("role", "group");
      element.setAttribute("aria-label", say("card.dialog"));
      if (byKeyboard) element.querySelector(".stack").focus({ preventScroll: true });
    }

    // The open card again, in other units.
    redraw() {
      if (this.open) this.popup.setContent(this.content(...this.open));
    }

    openRoad(i, latlng) {
      const [street, surface, id] = ["street", "surface", "id"].map((name) => this.roads.textOf(name, i));
      this.popup.options.maxWidth = 260;
      this.map.closePopup();
      this.popup.setLatLng(latlng).setContent(el("div", "stack road-card", this.closeButton(), el("strong", "", street ? quoted(street) : say("view.no_street")),
        el("span", "", say("view.road_surface"), quoted(surface || say("card.not_known"))),
        el("span", "", say("view.road_id"), quoted(id || say("view.no_road_id"))))).openOn(this.map);
    }
  }

  return { Popup };
})();
