"use strict";
// The distance tool: points by click, or by Enter at the middle of the map, and the length of the line through them.
const KerfbookMeasure = (() => {
  const { say } = KerfbookWords;
  const { el, button } = KerfbookElements;
  const { distance } = KerfbookUnits;
  const { COLOURS } = KerfbookSymbols;
  // WGS 84: half the axis in metres, and the flattening.
  const AXIS = 6378137;
  const FLAT = 1 / 298.257223563;
  const RADIANS = Math.PI / 180;
  // Far more than any two points need that are not on opposite sides of the earth.
  const MOST_STEPS = 200;

  // Metres between two positions along the ellipsoid: T. Vincenty, Survey Review 23 (1975), the inverse formula.
  function between([lat1, lng1], [lat2, lng2]) {
    const b = AXIS * (1 - FLAT);
    const [u1, u2] = [lat1, lat2].map((lat) => Math.atan((1 - FLAT) * Math.tan(lat * RADIANS)));
    const [s1, c1, s2, c2] = [Math.sin(u1), Math.cos(u1), Math.sin(u2), Math.cos(u2)];
    const away = (lng2 - lng1) * RADIANS;
    let lambda = away;
    let [sine, cosine, sigma, square, middle] = [0, 0, 0, 0, 0];
    for (let step = 0; step < MOST_STEPS; step += 1) {
      sine = Math.hypot(c2 * Math.sin(lambda), c1 * s2 - s1 * c2 * Math.cos(lambda));
      if (sine === 0) return 0;
      cosine = s1 * s2 + c1 * c2 * Math.cos(lambda);
      sigma = Math.atan2(sine, cosine);
      const alpha = (c1 * c2 * Math.sin(lambda)) / sine;
      square = 1 - alpha * alpha;
      // On the equator the line has no highest point.
      middle = square > 0 ? cosine - (2 * s1 * s2) / square : 0;
      const c = (FLAT / 16) * square * (4 + FLAT * (4 - 3 * square));
      const before = lambda;
      lambda = away + (1 - c) * FLAT * alpha * (sigma + c * sine * (middle + c * cosine * (2 * middle * middle - 1)));
      if (Math.abs(lambda - before) < 1e-12) break;
    }
    const u = (square * (AXIS * AXIS - b * b)) / (b * b);
    const big = 1 + (u / 16384) * (4096 + u * (u * (320 - 175 * u) - 768));
    const small = (u / 1024) * (256 + u * (u * (74 - 47 * u) - 128));
    const square2 = middle * middle;
    const change = small * sine * (middle + (small / 4) * (cosine * (2 * square2 - 1) - (small / 6) * middle * (4 * sine * sine - 3) * (4 * square2 - 3)));
    return b * big * (sigma - change);
  }

  function ruler() {
    const made = KerfbookElements.svg("svg", { viewBox: "0 0 20 20", width: 18, height: 18, "aria-hidden": "true" });
    made.append(KerfbookElements.svg("path", { d: "M2 14 14 2l4 4L6 18ZM5 11l2 2M8 8l3 3M11 5l2 2", fill: "none", stroke: "currentColor", "stroke-width": 1.5 }));
    return made;
  }

  class Measure {
    constructor(map) {
      Object.assign(this, { map, isOn: false, points: [] });
      const style = () => ({ color: COLOURS.ink, weight: 2.5, dashArray: "2 5", interactive: false });
      this.line = L.polyline([], style());
      this.dots = L.layerGroup([]);
      KerfbookSymbols.onScheme(() => this.line.setStyle(style()));
      const control = L.control({ position: "topleft" });
      this.button = button("", () => this.turn(!this.isOn), "measure-button");
      Object.assign(this.button, { title: say("measure.button") });
      this.button.setAttribute("aria-label", say("measure.button"));
      this.button.setAttribute("aria-pressed", "false");
      this.button.append(ruler());
      this.total = el("div", "measure-total");
      this.total.setAttribute("role", "status");
      this.total.hidden = true;
      const box = el("div", "measure", this.button, this.total);
      L.DomEvent.disableClickPropagation(box);
      control.onAdd = () => box;
      control.addTo(map);
      map.on("click", ({ latlng }) => { if (this.isOn) this.add(latlng); });
      // Before the map's own keys, which open a core on Enter.
      map.getContainer().addEventListener("keydown", (event) => this.key(event), true);
    }

    turn(isOn) {
      this.isOn = isOn;
      this.button.setAttribute("aria-pressed", String(isOn));
      this.map.getContainer().classList.toggle("measuring", isOn);
      if (isOn) this.map.closePopup();
      if (isOn) this.map.getContainer().focus({ preventScroll: true });
      this.points = [];
      this.redraw();
    }

    add(latlng) {
      this.points.push(latlng);
      this.redraw();
    }

    key(event) {
      if (!this.isOn) return;
      const isOnMap = event.target === this.map.getContainer();
      const acts = {
        Escape: () => {
          this.turn(false);
          this.button.focus();
        },
        Enter: isOnMap && (() => this.add(this.map.getCenter())),
        Backspace: isOnMap && (() => {
          this.points.pop();
          this.redraw();
        }),
      };
      if (!acts[event.key]) return;
      event.preventDefault();
      event.stopPropagation();
      acts[event.key]();
    }

    length() {
      return this.points.reduce((sum, { lat, lng }, p) => (p ? sum + between([this.points[p - 1].lat, this.points[p - 1].lng], [lat, lng]) : 0), 0);
    }

    redraw() {
      const { map, line, dots, points, total, isOn } = this;
      line.setLatLngs(points);
      dots.clearLayers();
      points.forEach((point) => dots.addLayer(L.circleMarker(point, { radius: 4, color: COLOURS.ink, weight: 2, fillColor: COLOURS.paper, fillOpacity: 1, interactive: false })));
      [line, dots].forEach((layer) => (isOn ? layer.addTo(map) : layer.remove()));
      total.hidden = !isOn;
      total.replaceChildren(el("strong", "", distance(this.length())), el("span", "", say(points.length ? "measure.way" : "measure.how")));
    }
  }

  return { Measure, between };
})();
