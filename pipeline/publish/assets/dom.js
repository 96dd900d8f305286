"use strict";
// Small parts that every other script uses: elements built from text, never from markup.
const KerfbookDom = (() => {
  // Far apart in lightness (about 37, 89 and 64 of 100), so that a grey print still tells them apart.
  const STATUSES = [
    { name: "flagged", label: "Flagged", colour: "#b1123f", path: "M0-9L9 7H-9Z" },
    { name: "pending", label: "Pending", colour: "#ffe07a", path: "M-6.7-6.7H6.7V6.7H-6.7Z" },
    { name: "reinstated", label: "Reinstated", colour: "#3aa7a0", path: "M-7.4 0A7.4 7.4 0 1 1 7.4 0A7.4 7.4 0 1 1-7.4 0Z" },
  ];
  const OUTLINE = "#222";
  const HALO = "#fff";

  // A string among the children becomes a text node: markup in it stays text.
  function el(name, className, ...children) {
    const made = document.createElement(name);
    if (className) made.className = className;
    made.append(...children.filter((child) => child !== null && child !== undefined));
    return made;
  }

  // Text from a register, isolated so that a direction mark in it turns nothing but itself.
  function quoted(text) {
    return el("bdi", "", text);
  }

  function icon(status) {
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    svg.setAttribute("viewBox", "-11 -11 22 22");
    svg.setAttribute("class", "icon");
    svg.setAttribute("aria-hidden", "true");
    const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
    path.setAttribute("d", STATUSES[status].path);
    path.setAttribute("fill", STATUSES[status].colour);
    path.setAttribute("stroke", OUTLINE);
    path.setAttribute("stroke-width", "1.6");
    path.setAttribute("stroke-linejoin", "round");
    svg.append(path);
    return svg;
  }

  // Three counts with their shapes; what the shape means is said to those who cannot see it.
  function tally(counts) {
    return el("span", "tally", ...STATUSES.map((status, s) =>
      el("span", counts[s] ? "" : "none", icon(s), number(counts[s]), el("span", "unseen", ` ${status.name} `))));
  }

  function number(value) {
    return value.toLocaleString("en", { maximumFractionDigits: 2 });
  }

  function plural(count, one, many) {
    return `${number(count)} ${count === 1 ? one : many}`;
  }

  function readJson(id) {
    return JSON.parse(document.getElementById(id).textContent);
  }

  // One value of a packed column: plain, or a code into its words; null where missing.
  function valueAt(column, i) {
    if (column.plain) return column.plain[i];
    const code = column.codes[i];
    return code < 0 ? null : column.words[code];
  }

  function runningSum(deltas) {
    const sums = new Int32Array(deltas.length);
    let sum = 0;
    for (let i = 0; i < deltas.length; i += 1) {
      sum += deltas[i];
      sums[i] = sum;
    }
    return sums;
  }

  function moreButton(label, onClick) {
    const button = el("button", "more", label);
    button.type = "button";
    button.addEventListener("click", onClick);
    return button;
  }

  return { STATUSES, OUTLINE, HALO, el, quoted, icon, tally, number, plural, readJson, valueAt, runningSum, moreButton };
})();
