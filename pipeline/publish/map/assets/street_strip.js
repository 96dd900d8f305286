"use strict";
// One street as a strip: its cores by metres along it and by their days, its joints, works, and cuts by length.
const KerfbookStreetStrip = (() => {
  const { say, number, dayOf, locale } = KerfbookWords;
  const { svg } = KerfbookElements;
  const { AS_OF } = KerfbookDaysOfCores;
  const [LEFT, RIGHT, TOP, TALL, LANE] = [58, 14, 8, 112, 15];
  // The band of cuts below the days, and the rows of metres and of names below that.
  const [BAND, METRES, NAMES] = [12, 15, 14];
  const MOST_PIXELS_PER_METRE = 4;
  const LETTER = 6.4;
  const dates = (options) => KerfbookWords.lazily(() => new Intl.DateTimeFormat(locale, { timeZone: "UTC", ...options }));
  const months = dates({ month: "short" });
  // A year of two digits after a month reads as a day.
  const monthAndYear = dates({ month: "short", year: "numeric" });
  const years = dates({ year: "numeric" });
  const dayOfMonth = dates({ day: "numeric", month: "short" });

  // Lengths of which a whole number is a round number of metres.
  const roundUp = (metres) => [5, 10, 20, 50, 100, 200, 500, 1000, 2000].find((step) => step >= metres) ?? 5000;

  const text = (x, y, words, className = "", anchor = "start") => {
    const made = svg("text", { x, y, class: className, "text-anchor": anchor });
    made.textContent = words;
    return made;
  };

  // Where things lie in a strip of a width: pixels of a metre and of a day.
  function scaleOf(length, width, [first, last], hasLane) {
    const top = TOP + (hasLane ? LANE : 0);
    const perMetre = Math.min(MOST_PIXELS_PER_METRE, (width - LEFT - RIGHT) / Math.max(length, 1));
    const end = LEFT + length * perMetre;
    const x = (metres) => LEFT + metres * perMetre;
    const y = (day) => top + (TALL * (Math.min(Math.max(day, first), last) - first)) / (last - first);
    return { perMetre, end, x, y, first, last, top, bottom: top + TALL, high: top + TALL + BAND + METRES + NAMES + 5 };
  }

  // The first days of months, as many as there is room for.
  function monthLines(first, last) {
    const step = [1, 2, 3, 6, 12, 24, 60, 120].find((every) => ((last - first) / 30.4) / every <= 6) ?? 240;
    const start = new Date(first * 86400000);
    const found = [];
    for (let month = start.getUTCFullYear() * 12 + start.getUTCMonth(); ; month += 1) {
      const day = Date.UTC(Math.floor(month / 12), month % 12, 1) / 86400000;
      if (day > last) return found;
      if (month % step !== 0 || day < first) continue;
      const ofMonth = month % 12 === 0 || !found.length ? monthAndYear : months;
      found.push([day, step > 6 ? years : ofMonth]);
    }
  }

  function days(scale) {
    const made = svg("g", { class: "strip-days" });
    if (scale.top > TOP) made.append(text(LEFT - 6, TOP + LANE / 2, say("streets.earlier"), "", "end"));
    const today = scale.y(AS_OF);
    for (const [day, format] of monthLines(scale.first, scale.last)) {
      const y = scale.y(day);
      made.append(svg("path", { d: `M${LEFT} ${y}H${scale.end}` }));
      if (Math.abs(y - today) > 13) made.append(text(LEFT - 6, y + 4, format(new Date(day * 86400000)), "", "end"));
    }
    made.append(svg("path", { d: `M${LEFT} ${today}H${scale.end}`, class: "strip-today" }), text(LEFT - 6, today + 4, dayOfMonth(new Date(AS_OF * 86400000)), "strip-today-name", "end"));
    return made;
  }

  // The streets that meet this one: each a tick, named where there is room.
  function joints(scale, { joints: found, gaps }) {
    const made = svg("g", { class: "strip-joints" });
    const base = scale.bottom + BAND;
    let free = LEFT - 40;
    for (const { at, names, isCrossing } of found) {
      const x = scale.x(at);
      made.append(svg("path", { d: `M${x} ${scale.top}V${base + (isCrossing ? 5 : 3)}`, class: isCrossing ? "strip-crossing" : "" }));
      const name = names[0] ?? "";
      const half = (name.length * LETTER) / 2;
      const middle = Math.min(Math.max(x, LEFT - 50 + half), Math.max(scale.end + RIGHT - half, LEFT + half));
      if (name && middle - half > free && half < 120) {
        // letters may be wider than reckoned: a name at the end of the strip is held by its own end
        const isLast = middle < x;
        made.append(text(isLast ? scale.end + RIGHT : middle, base + METRES + NAMES - 2, name, "strip-crossing-name", isLast ? "end" : "middle"));
        free = middle + half + 8;
      }
    }
    gaps.forEach(([from, to]) => made.append(svg("rect", { x: scale.x(from), y: scale.top, width: Math.max(2, scale.x(to) - scale.x(from)), height: TALL + BAND, class: "strip-gap" })));
    return made;
  }

  function metreTicks(scale, length) {
    const made = svg("g", { class: "strip-metres" });
    const base = scale.bottom + BAND;
    const step = roundUp(70 / scale.perMetre);
    for (let at = 0; at <= length; at += step) {
      const [x, words] = [scale.x(at), KerfbookUnits.amount(at, "m")];
      const isLast = x + (words.length * LETTER) / 2 > scale.end + RIGHT;
      const anchor = at === 0 ? "start" : "middle";
      made.append(svg("path", { d: `M${x} ${base}v4` }), text(isLast ? scale.end + RIGHT : x, base + METRES - 1, words, "", isLast ? "end" : anchor));
    }
    return made;
  }

  // How many cuts lie in each stretch of a round length, and the most within that length anywhere; places in order.
  function cutsByStretch(scale, length, places) {
    const step = roundUp(Math.max(10, 13 / scale.perMetre));
    const counts = new Uint32Array(Math.floor(length / step) + 1);
    places.forEach((at) => { counts[Math.min(counts.length - 1, Math.floor(at / step))] += 1; });
    let [from, most] = [0, 0];
    places.forEach((at, p) => {
      while (at - places[from] > step) from += 1;
      most = Math.max(most, p - from + 1);
    });
    return { step, counts, most };
  }

  // The street itself: darker where it was cut more often, with the number of cuts.
  function band(scale, length, { step, counts }) {
    const made = svg("g", { class: "strip-band" });
    made.append(svg("rect", { x: LEFT, y: scale.bottom, width: scale.end - LEFT, height: BAND, class: "strip-road" }));
    counts.forEach((count, s) => {
      if (!count) return;
      const [x, end] = [scale.x(s * step), scale.x(Math.min(length, (s + 1) * step))];
      made.append(svg("rect", { x, y: scale.bottom, width: Math.max(1, end - x), height: BAND, class: `strip-cuts strip-cuts-${Math.min(5, count)}` }));
      if (count > 1 && end - x > LETTER * String(count).length + 3) made.append(text((x + end) / 2, scale.bottom + BAND - 2.5, number(count), count > 2 ? "on-dark" : "", "middle"));
    });
    return made;
  }

  // Works that hold some of the street's cores: from the first to the last of them, on their days.
  function works(scale, listed) {
    const made = svg("g", { class: "strip-works" });
    for (const { kind, name, on, until, from, to } of listed) {
      const [start, end] = [dayOf(on) ?? scale.first, dayOf(until) ?? (kind === "resurfaced" ? dayOf(on) ?? scale.last : scale.last)];
      if (end < scale.first || start > scale.last) continue;
      const [x, wide] = [scale.x(from) - 7, Math.max(14, scale.x(to) - scale.x(from) + 14)];
      const [y, high] = [scale.y(start), Math.max(3, scale.y(end) - scale.y(start))];
      const area = svg("rect", { x, y, width: wide, height: high, class: `strip-work strip-${kind}` });
      const title = svg("title", {});
      title.textContent = say(`streets.work_${kind}`, { name: name ?? "" });
      area.append(title);
      made.append(area);
    }
    return made;
  }

  return { LANE, RIGHT, TOP, band, cutsByStretch, days, joints, metreTicks, scaleOf, works };
})();
