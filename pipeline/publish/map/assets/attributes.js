"use strict";
// What is known of each core, by its index in the page's order.
const KerfbookAttributes = (() => {
  const { page, say } = KerfbookWords;
  const { STATUSES } = KerfbookSymbols;
  const WORLD = 2 ** 30;

  class Attributes {
    constructor(bundle, cores) {
      this.bundle = bundle;
      this.cores = cores;
      this.lists = new Map();
    }

    // Days by core, NaN where missing; like all that a closed panel does not need, read when first asked for.
    get opened() {
      this.openedOn ??= this.bundle.days("opened_on");
      return this.openedOn;
    }

    get reinstated() {
      this.reinstatedOn ??= this.bundle.days("reinstated_at");
      return this.reinstatedOn;
    }

    get firstFinding() {
      this.findingsFrom ??= this.listed("finding").first;
      return this.findingsFrom;
    }

    // Where the entries of each core begin in a list that is sorted by core, and the core of each entry.
    listed(name) {
      if (!this.lists.has(name)) {
        const owner = this.bundle.ints(`${name}_core`);
        const first = new Uint32Array(this.cores.all + 1);
        for (let f = 0; f < owner.length; f += 1) first[owner[f] + 1] += 1;
        for (let i = 0; i < this.cores.all; i += 1) first[i + 1] += first[i];
        this.lists.set(name, { first, owner });
      }
      return this.lists.get(name);
    }

    // The texts of a core in a list, such as the ids of the works that it lies in; none without the list.
    entries(name, i) {
      if (!this.has(`${name}_core`)) return [];
      const { first } = this.listed(name);
      return Array.from({ length: first[i + 1] - first[i] }, (_none, f) => this.text(name, first[i] + f));
    }

    has(name) { return this.bundle.has(name); }

    text(name, i) { return this.bundle.text(name, i); }

    number(name, i) { return this.bundle.number(name, i); }

    day(name, i) { return this.bundle.days(name)[i]; }

    row(i) { return this.bundle.ints("row")[i]; }

    id(i) { return this.text("core_id", i) || say("card.no_id"); }

    // The indices of the cores with an id, in the page's order. A link may come from a month in which the register wrote
    // the id with other capitals or spaces: it names the same core, as in a comparison of runs.
    ofId(id) {
      const exact = this.bundle.indicesOf("core_id", id);
      return exact.length ? exact : this.bundle.indicesOf("core_id", id, (text) => text.toLowerCase().replace(/\s+/g, ""));
    }

    // The index of the core of a register row, or -1: rows move between runs, so only links of earlier maps have them.
    ofRow(row) { return this.bundle.ints("row").indexOf(row); }

    isPlaced(i) { return i < this.cores.count; }

    findings(i) {
      const found = [];
      for (let f = this.firstFinding[i]; f < this.firstFinding[i + 1]; f += 1) {
        found.push({
          severity: this.text("finding_severity", f) || "note",
          rule: this.text("finding_rule", f) || "",
          message: this.text("finding_message", f) || "",
          urgency: this.text("finding_urgency", f),
          // The last day of its acceptance; an empty text has no end.
          accepted: this.text("finding_accepted", f),
        });
      }
      return found;
    }

    // "open", "reinstated" or "unknown": of a flagged core its status does not say.
    isOut(i) {
      const status = STATUSES[this.cores.status[i]].name;
      if (status !== "flagged") return status === "pending" ? "open" : "reinstated";
      const state = this.text("state", i);
      if (state) return state === "back" ? "reinstated" : state === "unknown" ? "unknown" : "open";
      if (!this.has("reinstated_at")) return "unknown";
      if (!Number.isNaN(this.reinstated[i])) return "reinstated";
      return this.findings(i).some(({ rule }) => page.unknownStateRules.includes(rule)) ? "unknown" : "open";
    }

    latLng(i) {
      const y = Math.PI * (1 - (2 * this.cores.y[i]) / WORLD);
      return [(Math.atan(Math.sinh(y)) * 180) / Math.PI, (this.cores.x[i] / WORLD) * 360 - 180];
    }

    // Latitude and longitude as they are written, or null.
    position(i) {
      return this.isPlaced(i) ? this.latLng(i).map((degrees) => degrees.toFixed(6)) : null;
    }
  }

  return { Attributes };
})();
