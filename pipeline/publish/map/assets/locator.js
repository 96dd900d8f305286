"use strict";
// A small overview of the whole network with the part that is in view; a click on it moves the map there.
const KerfbookLocator = (() => {
  const { say } = KerfbookWords;
  const { el, button } = KerfbookElements;
  const { COLOURS } = KerfbookSymbols;
  const WORLD = 2 ** 30;
  const [WIDTH, HEIGHT] = [150, 116];
  const MARGIN = 8;
  // With more lines than this, the main roads alone are drawn.
  const MOST_LINES = 6000;

  class Locator {
    constructor(map, roads, network) {
      Object.assign(this, { map, roads, network, isPainted: false });
      this.canvas = el("canvas", "");
      this.canvas.setAttribute("aria-hidden", "true");
      const ratio = window.devicePixelRatio || 1;
      [this.canvas.width, this.canvas.height] = [WIDTH * ratio, HEIGHT * ratio];
      this.frame = el("div", "locator-frame");
      this.body = el("div", "locator-body", this.canvas, this.frame);
      this.switch = button(say("locator.title"), () => this.open(this.body.hidden), "locator-switch");
      const control = L.control({ position: "bottomleft" });
      const box = el("div", "locator", this.body, this.switch);
      this.box = box;
      L.DomEvent.disableClickPropagation(box);
      L.DomEvent.disableScrollPropagation(box);
      this.body.addEventListener("click", (event) => this.go(event));
      control.onAdd = () => box;
      control.addTo(map);
      this.fit();
      this.open(true);
      map.on("moveend", () => this.follow());
      KerfbookSymbols.onScheme(() => {
        this.isPainted = false;
        this.follow();
      });
    }

    // The network in the middle of the overview.
    fit() {
      const [low, high] = [this.network.getSouthWest(), this.network.getNorthEast()].map((corner) => this.map.project(corner, 0).multiplyBy(WORLD / 256));
      this.scale = Math.min((WIDTH - 2 * MARGIN) / (high.x - low.x), (HEIGHT - 2 * MARGIN) / (low.y - high.y));
      this.left = (low.x + high.x) / 2 - WIDTH / 2 / this.scale;
      this.top = (low.y + high.y) / 2 - HEIGHT / 2 / this.scale;
    }

    open(isOpen) {
      this.body.hidden = !isOpen;
      this.switch.setAttribute("aria-expanded", String(isOpen));
      this.follow();
    }

    paint() {
      const { canvas, roads, left, top, scale } = this;
      const ctx = canvas.getContext("2d");
      const ratio = canvas.width / WIDTH;
      ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
      ctx.clearRect(0, 0, WIDTH, HEIGHT);
      const lines = [];
      for (let i = 0; i < roads.count; i += 1) if (roads.count < MOST_LINES || roads.rank[i] === 0) lines.push(i);
      Object.assign(ctx, { strokeStyle: COLOURS["road-line"], lineWidth: roads.count < 1000 ? 1 : 0.6 });
      ctx.stroke(roads.trace(lines, { left: left * scale, top: top * scale, scale, fine: 0.8 }));
      this.isPainted = true;
    }

    // Where the view lies; nothing is painted as long as the overview is closed or hidden.
    follow() {
      // With the whole network in view it shows nothing new.
      this.box.hidden = this.map.getBounds().contains(this.network);
      if (this.body.hidden || !this.body.offsetParent) return;
      if (!this.isPainted) this.paint();
      const bounds = this.map.getBounds();
      const [low, high] = [bounds.getSouthWest(), bounds.getNorthEast()].map((corner) => this.map.project(corner, 0).multiplyBy(WORLD / 256));
      const inside = (value, most) => Math.max(0, Math.min(most, value));
      const [x0, x1] = [low.x, high.x].map((x) => inside((x - this.left) * this.scale, WIDTH));
      const [y0, y1] = [high.y, low.y].map((y) => inside((y - this.top) * this.scale, HEIGHT));
      Object.assign(this.frame.style, { left: `${x0}px`, top: `${y0}px`, width: `${Math.max(4, x1 - x0)}px`, height: `${Math.max(4, y1 - y0)}px` });
    }

    go(event) {
      const { left, top } = this.body.getBoundingClientRect();
      const [x, y] = [(event.clientX - left) / this.scale + this.left, (event.clientY - top) / this.scale + this.top];
      this.map.panTo(this.map.unproject([(x / WORLD) * 256, (y / WORLD) * 256], 0));
    }
  }

  return { Locator };
})();
