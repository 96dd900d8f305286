"use strict";
// The popup on the map: the card of a core, of several at one spot in turn, or a few words about a road segment.
const KerfbookPopup = (() => {
  const { say } = KerfbookWords;
  const { el, quoted, button, announce } = KerfbookElements;

  class Popup {
    // onSelect(i or null) is called with the core whose card is open.
    constructor(map, { attributes, cards, roads, onSelect }) {
      // cameFrom: the element that had the focus before the popup took it.
      Object.assign(this, { map, attributes, cards, roads, onSelect, open: null, cameFrom: null, listOfIt: null, isReplaced: false });
      // The left padding keeps a card clear of the zoom buttons.
      this.popup = L.popup({ className: "core-popup", closeButton: false, minWidth: 240, autoPanPaddingTopLeft: [54, 12], autoPanPaddingBottomRight: [12, 12] });
      this.popup.on("remove", () => {
        this.open = null;
        this.onSelect(null);
        if (this.isReplaced) return;
        if (this.hasFocus()) this.giveFocusBack();
        Object.assign(this, { cameFrom: null, listOfIt: null });
      });
    }

    hasFocus() { return this.popup.getElement()?.contains(document.activeElement) ?? false; }

    // Before the map moves: a list of what is in view is then written anew, and what had the focus is gone.
    rememberFocus() {
      const focused = document.activeElement;
      if (this.hasFocus() || focused === document.body) return;
      Object.assign(this, { cameFrom: focused, listOfIt: focused.closest("details")?.querySelector("summary") });
    }

    // To where the focus was; where that is no longer on the screen, to the head of the list that it was in, or the map.
    giveFocusBack() {
      const isSeen = (element) => element?.isConnected && element !== document.body && element.getClientRects().length > 0;
      [this.cameFrom, this.listOfIt, this.map.getContainer()].find(isSeen)?.focus({ preventScroll: true });
    }

    // A dialog that takes the focus, so that a screen reader reads its name, once, and then what is in it.
    openAt(latlng, name, content) {
      this.rememberFocus();
      this.isReplaced = true;
      this.map.closePopup();
      this.isReplaced = false;
      this.popup.setLatLng(latlng).setContent(content()).openOn(this.map);
      this.nameIt(name);
      this.popup.getElement().setAttribute("role", "dialog");
      this.popup.getElement().querySelector(".stack").focus({ preventScroll: true });
    }

    nameIt(name) { this.popup.getElement().setAttribute("aria-label", name); }

    nameOf(i) { return say("view.card_of", { id: this.attributes.id(i) }); }

    // A filter has changed: the card of a core that it hides would stand over an empty place.
    closeHidden(shown) {
      if (!this.open) return;
      const [cores, h] = this.open;
      if (shown[cores[h]]) return;
      this.map.closePopup();
      announce(say("view.card_hidden", { id: this.attributes.id(cores[h]) }));
    }

    // Leaflet's own is a link to nowhere, which a screen reader would offer as a link.
    closeButton() {
      const made = button("×", () => this.map.closePopup(), "closer");
      made.setAttribute("aria-label", say("view.close"));
      return made;
    }

    stack(className, ...children) {
      const box = el("div", className, this.closeButton(), ...children);
      box.tabIndex = -1;
      // A button that a click has replaced is in no popup any more: the map would take it for a click beside the card.
      box.addEventListener("click", (event) => event.stopPropagation());
      return box;
    }

    // The card of core number h of several.
    content(cores, h) {
      this.onSelect(cores[h]);
      this.open = [cores, h];
      const box = this.stack("stack");
      if (cores.length > 1) {
        const step = (by) => {
          const next = (h + by + cores.length) % cores.length;
          this.popup.setContent(this.content(cores, next));
          this.nameIt(this.nameOf(cores[next]));
          const pressed = this.popup.getElement().querySelector(by < 0 ? ".before" : ".after");
          // The button keeps the focus: what it has brought is read with it.
          pressed.setAttribute("aria-describedby", "card-open");
          pressed.focus();
        };
        box.append(el("div", "step", button(say("view.previous"), () => step(-1), "more before"),
          ` ${say("view.step", { h: h + 1, n: cores.length })} `, button(say("view.next"), () => step(1), "more after")));
      }
      const card = this.cards.build(cores[h]);
      card.querySelector("h2").id = "card-open";
      box.append(card);
      return box;
    }

    openCores(cores) {
      const size = this.map.getSize();
      this.popup.options.maxWidth = Math.min(340, size.x - 106);
      this.popup.options.maxHeight = Math.max(140, Math.min(640, size.y - 110));
      this.openAt(this.attributes.latLng(cores[0]), this.nameOf(cores[0]), () => this.content(cores, 0));
    }

    // The open card again, in other units.
    redraw() {
      if (this.open) this.popup.setContent(this.content(...this.open));
    }

    openRoad(i, latlng) {
      const [street, surface, id] = ["street", "surface", "id"].map((name) => this.roads.textOf(name, i));
      this.popup.options.maxWidth = 260;
      const box = this.stack("stack road-card", el("strong", "", street ? quoted(street) : say("view.no_street")),
        el("span", "", say("view.road_surface"), quoted(surface || say("card.not_known"))),
        el("span", "", say("view.road_id"), quoted(id || say("view.no_road_id"))));
      this.openAt(latlng, say("view.road"), () => box);
    }
  }

  return { Popup };
})();
