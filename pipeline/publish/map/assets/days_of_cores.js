"use strict";
// The dates of each core on one scale of days: when it was opened, covered, is due, was reinstated.
const KerfbookDaysOfCores = (() => {
  const { page, say, date, dayOf } = KerfbookWords;
  const AS_OF = dayOf(page.asOf);
  // Share of the cores at either end whose dates set no limit of the scale.
  const STRAY = 0.02;
  // A date this many days back and far from all others of its street sets no limit either: a mistyped year would leave the
  // other dates one line. Far is a number of times the span of the middle half.
  const OLD = 3 * 365;
  const FAR = 3;
  // Days shown before the first and after the last.
  const LEAST = 60;
  const MOST_AHEAD = 180;
  // The share of the days before the date of the map that those after it may take.
  const AHEAD = 0.4;

  const quantile = (sorted, share) => sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))];

  class Days {
    constructor(attributes) {
      this.attributes = attributes;
      const { bundle } = attributes;
      const days = (name) => (bundle.has(name) ? bundle.days(name) : null);
      Object.assign(this, { opened: attributes.opened, reinstated: attributes.reinstated, plated: days("plated_on"), interim: days("interim_on"), planned: days("planned_on"), permit: days("permit_expires_on") });
    }

    // The dates of a core; null where there is none.
    of(i) {
      const at = (days) => (days === null || Number.isNaN(days[i]) ? null : days[i]);
      const [permit, planned] = [at(this.permit), at(this.planned)];
      return {
        opened: at(this.opened), plated: at(this.plated), interim: at(this.interim), reinstated: at(this.reinstated),
        due: permit ?? planned, dueBy: permit === null ? "planned" : "permit", out: this.attributes.isOut(i),
      };
    }

    // The day by which a core is due, NaN for none: the end of its permit, or the day planned.
    dueOf(i) {
      const permit = this.permit === null ? NaN : this.permit[i];
      return Number.isNaN(permit) && this.planned !== null ? this.planned[i] : permit;
    }

    // Whether a core was over before a day, or when is not known.
    isEarly(i, day) {
      const { opened, reinstated, out } = this.of(i);
      return reinstated === null && out !== "reinstated" ? false : !((reinstated ?? opened) >= day);
    }

    // The first and last day to draw of some cores: strays are drawn at the edge.
    range(cores) {
      const opened = Float64Array.from(cores, (i) => this.opened[i]).filter((day) => day <= AS_OF).sort();
      const due = Float64Array.from(cores, (i) => this.dueOf(i)).filter((day) => day > AS_OF).sort();
      const [low, high] = [0.25, 0.75].map((share) => (opened.length ? quantile(opened, share) : AS_OF));
      const least = Math.min(low - FAR * (high - low), AS_OF - OLD);
      const first = Math.min(opened.length ? quantile(opened.filter((day) => day >= least), STRAY) : AS_OF, AS_OF - LEAST);
      const ahead = due.length ? Math.min(quantile(due, 1 - STRAY), AS_OF + MOST_AHEAD, AS_OF + AHEAD * (AS_OF - first)) : AS_OF;
      const start = new Date(first * 86400000);
      return [Date.UTC(start.getUTCFullYear(), start.getUTCMonth(), 1) / 86400000, Math.max(ahead, AS_OF + (AS_OF - first) * 0.06) + 2];
    }

    // A core in one sentence: id, state, dates, urgency.
    inWords(i) {
      const { attributes } = this;
      const { opened, plated, interim, reinstated, due, dueBy, out } = this.of(i);
      const state = attributes.text("state", i);
      const urgency = attributes.text("urgency", i);
      return [
        attributes.id(i),
        say(`state.${page.states.includes(state) ? state : out === "reinstated" ? "back" : out}`),
        opened === null ? say("streets.no_opened") : say("streets.opened", { day: date(opened) }),
        plated === null ? "" : say("streets.plated", { day: date(plated) }),
        interim === null ? "" : say("streets.interim", { day: date(interim) }),
        reinstated !== null ? say("streets.reinstated", { day: date(reinstated) }) : due === null ? "" : say(`streets.due_${dueBy}`, { day: date(due) }),
        page.urgencies.includes(urgency) ? say(`urgency.${urgency}`) : "",
      ].filter(Boolean).join(", ");
    }
  }

  return { Days, AS_OF, STRAY };
})();
