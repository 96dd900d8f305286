"use strict";
// The cores of a strip: a line from the day each was opened to the day it was reinstated, or to today; and its symbol.
const KerfbookStreetMarks = (() => {
  const { say } = KerfbookWords;
  const { el, svg } = KerfbookElements;
  const { icon, sizeOf } = KerfbookSymbols;
  const { AS_OF } = KerfbookDaysOfCores;
  const { LANE, TOP } = KerfbookStreetStrip;
  // Pixels of a symbol that is neither urgent nor in order, and the most that a mark is moved to lie beside another.
  const SIZE = 14;
  const MOST_MOVED = 30;
  const REACH = 14;
  // As many marks before one are looked at as may reach it.
  const NEIGHBOURS = 24;
  let made = 0;

  // A core in a strip: where its line begins and ends, in pixels.
  function markOf(i, along, scale, days) {
    const found = days.of(i);
    const isOpen = found.reinstated === null && found.out !== "reinstated";
    const end = found.reinstated ?? (isOpen ? AS_OF : found.opened);
    const isEarly = days.isEarly(i, scale.first);
    const y = (day) => scale.y(day);
    // a core opened after the date of the map has no line: it could only run backwards
    const hasLine = found.opened !== null && found.opened <= AS_OF && !isEarly;
    return {
      i, isOpen, isEarly, ...found, x: scale.x(along), size: SIZE * sizeOf(days.attributes.cores.level(i)),
      top: hasLine ? y(found.opened) : null,
      bottom: isEarly ? TOP + LANE / 2 - 4 : y(end),
    };
  }

  // Marks that would cover each other are moved apart along the street; where too many meet, they overlap.
  function separate(marks) {
    const laid = [];
    for (const mark of [...marks].sort((a, b) => a.x - b.x || b.size - a.size)) {
      let to = mark.x;
      for (const other of laid) {
        const gap = (mark.size + other.size) / 2 + 1;
        if (Math.abs(other.bottom - mark.bottom) < gap && to - other.x < gap) to = Math.max(to, other.x + gap);
      }
      if (to - mark.x <= MOST_MOVED) mark.x = to;
      laid.push(mark);
      if (laid.length > NEIGHBOURS) laid.shift();
    }
    return marks;
  }

  const path = (d, className) => (d ? [svg("path", { d, class: className })] : []);

  // One path for all cores whose line looks the same.
  function lines(marks, scale) {
    const drawn = { reinstated: "", open: "", plated: "", interim: "", late: "", ahead: "", due: "" };
    for (const { x, top, bottom, isOpen, isEarly, opened, plated, interim, due } of marks) {
      if (top !== null && !isOpen) drawn.reinstated += `M${x} ${top}V${bottom}`;
      if (isEarly || !isOpen) continue;
      if (top !== null) {
        const steps = [["open", opened], ["plated", plated], ["interim", interim]].filter((step) => step[1] !== null && step[1] <= AS_OF).sort((a, b) => a[1] - b[1]);
        steps.forEach(([stage, from], s) => { drawn[stage] += `M${x} ${scale.y(from)}V${scale.y(Math.min(AS_OF, steps[s + 1]?.[1] ?? AS_OF))}`; });
      }
      if (due === null || due < scale.first) continue;
      if (due < AS_OF) drawn.late += `M${x} ${scale.y(due)}V${bottom}`;
      else drawn.ahead += `M${x} ${bottom}V${scale.y(due)}`;
      drawn.due += `M${x - 5} ${scale.y(due)}h10`;
    }
    return [
      ...path(drawn.reinstated, "mark-reinstated"), ...path(drawn.ahead, "mark-ahead"), ...path(drawn.open, "mark-open"),
      ...path(drawn.plated, "mark-open"), ...path(drawn.plated, "mark-plated"), ...path(drawn.interim, "mark-open"), ...path(drawn.interim, "mark-interim"),
      ...path(drawn.late, "mark-late"), ...path(drawn.due, "mark-due"),
    ];
  }

  function symbol({ i, x, bottom, size }, attributes, id) {
    const { cores } = attributes;
    const group = svg("g", { id, role: "option", class: "mark" });
    const drawn = icon(cores.status[i], cores.unsure[i] === 1, attributes.text("urgency", i), attributes.text("state", i));
    Object.entries({ x: x - size / 2, y: bottom - size / 2, width: size, height: size }).forEach(([name, value]) => drawn.setAttribute(name, value));
    group.append(drawn);
    return group;
  }

  // Reinstated cores below, then the open ones, hazards on top.
  const drawnLater = ({ i, isOpen }, { hazard }) => (hazard[i] ? 2 : 0) + (isOpen ? 1 : 0);

  // What the lines mean.
  function key() {
    const samples = [["reinstated", "M0 8H24", ["reinstated"]], ["open", "M0 8H24", ["open"]], ["plated", "M0 8H24", ["open", "plated"]], ["interim", "M0 8H24", ["open", "interim"]], ["late", "M0 8H24", ["late"]]];
    const drawn = samples.map(([name, d, classes]) => {
      const sample = svg("svg", { viewBox: "0 0 24 16", width: 24, height: 16, class: "strip-sample", "aria-hidden": "true" });
      classes.forEach((one) => sample.append(svg("path", { d, class: `mark-${one}` })));
      return el("span", "", sample, say(`streets.key_${name}`));
    });
    const due = svg("svg", { viewBox: "0 0 24 16", width: 24, height: 16, class: "strip-sample", "aria-hidden": "true" });
    due.append(svg("path", { d: "M0 8H20", class: "mark-ahead" }), svg("path", { d: "M20 2V14", class: "mark-due" }));
    return el("p", "strips-key", ...drawn, el("span", "", due, say("streets.key_due")));
  }

  class Marks {
    constructor(canvas, marks, { scale, days, caption, openCore }) {
      const { attributes } = days;
      Object.assign(this, { canvas, marks, days, caption, current: -1 });
      made += 1;
      this.ids = marks.map((_mark, m) => `mark-${made}-${m}`);
      this.around = svg("path", { class: "mark-around" });
      const symbols = marks.map((mark, m) => symbol(mark, attributes, this.ids[m]));
      symbols.forEach((group, m) => group.setAttribute("aria-label", days.inWords(marks[m].i)));
      const order = marks.map((mark, m) => [drawnLater(mark, attributes.cores), m]).sort((a, b) => a[0] - b[0] || a[1] - b[1]);
      canvas.append(...lines(marks, scale), this.around, ...order.map(([, m]) => symbols[m]));
      canvas.addEventListener("pointermove", (event) => this.show(this.nearest(event)));
      canvas.addEventListener("pointerleave", () => { if (document.activeElement !== canvas) this.show(-1); });
      canvas.addEventListener("click", (event) => {
        const m = this.nearest(event);
        if (m >= 0) openCore(marks[m].i);
      });
      canvas.addEventListener("focus", () => this.show(Math.max(0, this.current)));
      canvas.addEventListener("blur", () => this.show(-1, true));
      canvas.addEventListener("keydown", (event) => this.key(event, openCore));
    }

    key(event, openCore) {
      const last = this.marks.length - 1;
      const to = { ArrowRight: this.current + 1, ArrowDown: this.current + 1, ArrowLeft: this.current - 1, ArrowUp: this.current - 1, Home: 0, End: last }[event.key];
      if (to !== undefined) this.show(Math.max(0, Math.min(last, to)));
      else if ((event.key === "Enter" || event.key === " ") && this.current >= 0) openCore(this.marks[this.current].i);
      else return;
      event.preventDefault();
    }

    // The core whose line or symbol is nearest to a pointer, -1 where none is within reach.
    nearest(event) {
      const box = this.canvas.getBoundingClientRect();
      const ratio = this.canvas.viewBox.baseVal.width / box.width;
      const [px, py] = [(event.clientX - box.left) * ratio, (event.clientY - box.top) * ratio];
      let [found, least] = [-1, REACH];
      this.marks.forEach(({ x, top, bottom }, m) => {
        const symbolAway = Math.hypot(px - x, py - bottom);
        const lineAway = top === null || py < top || py > bottom ? Infinity : Math.abs(px - x) + 3;
        const away = Math.min(symbolAway, lineAway);
        if (away < least) [found, least] = [m, away];
      });
      return found;
    }

    show(m, isLeft = false) {
      if (!isLeft) this.current = m;
      const mark = this.marks[isLeft ? -1 : m];
      this.around.setAttribute("d", mark ? `M${mark.x} ${(mark.top ?? mark.bottom) - 3}V${mark.bottom + 3}` : "");
      this.canvas.classList.toggle("over-mark", Boolean(mark));
      this.caption.textContent = mark ? this.days.inWords(mark.i) : "";
      this.caption.hidden = !mark;
      if (mark) this.caption.style.left = `${Math.min(mark.x, Math.max(0, this.caption.parentElement.clientWidth - this.caption.offsetWidth - 8))}px`;
      if (mark) this.canvas.setAttribute("aria-activedescendant", this.ids[m]);
      else this.canvas.removeAttribute("aria-activedescendant");
    }
  }

  return { Marks, key, markOf, separate };
})();
