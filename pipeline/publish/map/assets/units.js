"use strict";
// Quantities in the reader's units. The factors are exact by definition.
const KerfbookUnits = (() => {
  const { say, number, page } = KerfbookWords;
  const MM_PER_INCH = 25.4;
  const M_PER_FOOT = 0.3048;
  const FEET_PER_MILE = 5280;
  const L_PER_GALLON = 3.785411784;
  const KG_PER_POUND = 0.45359237;
  const US = {
    mm: ["in", MM_PER_INCH, 2],
    m: ["ft", M_PER_FOOT, 1],
    L: ["gal", L_PER_GALLON, 2],
    kg: ["lb", KG_PER_POUND, 1],
  };
  let system = page.units === "us" ? "us" : "metric";

  const inUse = () => system;
  function use(wanted) { system = wanted === "us" ? "us" : "metric"; }

  const round = (value, digits) => Math.round(value * 10 ** digits) / 10 ** digits;

  // The longest round length up to a number of metres: its metres, and how it reads.
  function roundLength(metres) {
    const [unit, long, perLong] = system === "us" ? [M_PER_FOOT, "mi", FEET_PER_MILE] : [1, "km", 1000];
    const reach = metres / unit;
    const [scale, name] = reach >= perLong ? [perLong, long] : [1, system === "us" ? "ft" : "m"];
    const power = 10 ** Math.floor(Math.log10(reach / scale));
    const value = [5, 2, 1].find((step) => step * power <= reach / scale) * power;
    return { metres: value * scale * unit, text: say(`unit.${name}`, { v: number(value) }) };
  }

  // A length in metres as it is measured on the map.
  function distance(metres) {
    const [unit, long, perLong] = system === "us" ? [M_PER_FOOT, "mi", FEET_PER_MILE] : [1, "km", 1000];
    const reach = metres / unit;
    if (reach >= perLong) return say(`unit.${long}`, { v: number(reach / perLong) });
    return say(`unit.${system === "us" ? "ft" : "m"}`, { v: number(round(reach, 1)) });
  }

  // A value in millimetres, metres, litres or kilograms as the reader reads it; null stays null.
  function amount(value, unit) {
    if (value === null) return null;
    if (system === "metric") return say(`unit.${unit}`, { v: number(value) });
    const [name, factor, digits] = US[unit];
    return say(`unit.${name}`, { v: number(round(value / factor, digits)) });
  }

  // A weight is only about right: in whole kilograms or pounds.
  function weight(value) {
    if (value === null) return null;
    return system === "us" ? say("unit.lb", { v: number(round(value / KG_PER_POUND, 0)) }) : say("unit.kg", { v: number(round(value, 0)) });
  }

  return { weight, amount, roundLength, distance, inUse, use };
})();
