"use strict";
// What mouse, finger and keyboard do on the map.
const KerfbookPointerAndKeys = (() => {
  const { say } = KerfbookWords;
  const { byId, quoted } = KerfbookElements;
  // Pixels: a finger is wider than a mouse pointer.
  const CORE_REACH = window.matchMedia("(pointer: coarse)").matches ? 22 : 12;
  const ROAD_REACH = 7;
  // Milliseconds: once per frame is enough, and dragging needs the time.
  const FRAME = 30;

  class PointerAndKeys {
    // hasRoads() is whether roads are drawn; unmark() ends the marking of a street.
    constructor(map, { cores, roads, navigation, popup, hasRoads, unmark }) {
      Object.assign(this, { map, cores, roads, navigation, popup, hasRoads, unmark });
      this.tip = L.tooltip({ direction: "top", offset: [0, -8], className: "street-tip" });
      map.on("click", (event) => this.click(event.latlng));
      let last = 0;
      map.on("mousemove", ({ latlng, originalEvent }) => {
        if (originalEvent.buttons || originalEvent.timeStamp - last < FRAME) return;
        last = originalEvent.timeStamp;
        this.hover(latlng);
      });
      map.on("mouseout movestart", () => map.closeTooltip(this.tip));
      this.listenToKeys();
      this.nameZoomButtons();
    }

    // What lies under a point: the cores that have a symbol there, or the road segment.
    under(latlng) {
      const { x, y } = this.map.project(latlng);
      const zoom = this.map.getZoom();
      const cores = this.cores.drawnNear(x, y, zoom, CORE_REACH);
      const road = !cores.length && this.hasRoads() ? this.roads.nearest(x, y, zoom, ROAD_REACH) : -1;
      return { cores, road };
    }

    click(latlng) {
      this.unmark();
      // The distance tool takes the clicks while it is on.
      if (this.map.getContainer().classList.contains("measuring")) return;
      const { cores, road } = this.under(latlng);
      if (cores.length) this.popup.openCores(cores);
      else if (road >= 0) this.popup.openRoad(road, latlng);
    }

    hover(latlng) {
      const { map, tip } = this;
      const { cores, road } = this.under(latlng);
      map.getContainer().classList.toggle("over-core", cores.length > 0);
      const street = road < 0 ? null : this.roads.textOf("street", road);
      if (!street) map.closeTooltip(tip);
      else map.openTooltip(tip.setLatLng(latlng).setContent(quoted(street)));
    }

    listenToKeys() {
      const box = this.map.getContainer();
      box.setAttribute("role", "application");
      box.setAttribute("aria-label", say("view.keys"));
      box.addEventListener("keydown", (event) => {
        if (event.key === "Enter" && event.target === box) {
          event.preventDefault();
          const nearest = this.navigation.nearestToCentre();
          if (nearest >= 0) this.popup.openCores([nearest]);
        } else if (event.key === "Escape") {
          const wasOpen = this.popup.popup.isOpen();
          this.map.closePopup();
          if (!wasOpen && event.target !== box) box.focus({ preventScroll: true });
        }
      });
    }

    nameZoomButtons() {
      byId("map-area").querySelectorAll(".leaflet-control-zoom a").forEach((link, l) => {
        const words = say(l ? "view.zoom_out" : "view.zoom_in");
        link.title = words;
        link.setAttribute("aria-label", words);
      });
    }
  }

  const setUp = (map, parts) => new PointerAndKeys(map, parts);

  return { setUp };
})();
