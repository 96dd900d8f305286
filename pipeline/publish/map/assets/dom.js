"use strict";
// Small parts that every other script uses: elements built from text, never from markup.
const KerfbookDom = (() => {
  const { say, number } = KerfbookWords;
  // Far apart in lightness (about 37, 89 and 64 of 100), so that a grey print still tells them apart.
  const STATUSES = [
    { name: "flagged", colour: "#b1123f", path: "M0-9L9 7H-9Z" },
    { name: "pending", colour: "#ffe07a", path: "M-6.7-6.7H6.7V6.7H-6.7Z" },
    { name: "reinstated", colour: "#3aa7a0", path: "M-7.4 0A7.4 7.4 0 1 1 7.4 0A7.4 7.4 0 1 1-7.4 0Z" },
  ].map((status) => ({ ...status, label: say(`status.${status.name}`) }));
  const OUTLINE = "#222";
  const HALO = "#fff";
  // What is cut out of the middle of an unsure core's shape.
  const HOLLOW = 0.52;

  const byId = (id) => document.getElementById(id);

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

  function svg(name, attributes) {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    Object.entries(attributes).forEach(([key, value]) => made.setAttribute(key, value));
    return made;
  }

  function icon(status, isHollow = false) {
    const made = svg("svg", { viewBox: "-11 -11 22 22", class: "icon", "aria-hidden": "true" });
    const d = STATUSES[status].path;
    const line = { stroke: OUTLINE, "stroke-width": "1.6", "stroke-linejoin": "round" };
    made.append(svg("path", { d, fill: STATUSES[status].colour, ...line }));
    if (isHollow) made.append(svg("path", { d, fill: HALO, transform: `scale(${HOLLOW})`, ...line }));
    return made;
  }

  // Three parts, as a ring of cores of every status has.
  function ringIcon() {
    const made = svg("svg", { viewBox: "-11 -11 22 22", class: "icon", "aria-hidden": "true" });
    // A circle of radius 7 is 44 long: thirds of it, one after another.
    STATUSES.forEach((status, s) => made.append(svg("circle", { r: 7, fill: "none", stroke: status.colour, "stroke-width": 5, "stroke-dasharray": "14.66 29.32", "stroke-dashoffset": -14.66 * s })));
    for (const r of [9.6, 4.4]) made.append(svg("circle", { r, fill: "none", stroke: OUTLINE, "stroke-width": 1.2 }));
    return made;
  }

  // Three counts with their shapes; what the shape means is said to those who cannot see it.
  function tally(counts) {
    return el("span", "tally", ...STATUSES.map((status, s) =>
      el("span", counts[s] ? "" : "none", icon(s), number(counts[s]), el("span", "unseen", ` ${status.label} `))));
  }

  function button(label, onClick, className = "more") {
    const made = el("button", className, label);
    made.type = "button";
    made.addEventListener("click", onClick);
    return made;
  }

  // A tick box with its label; the id lets scripts and tests find it.
  function tick(isOn, onChange, ...label) {
    const input = el("input", "");
    input.type = "checkbox";
    input.checked = isOn;
    input.addEventListener("change", () => onChange(input.checked));
    return el("label", "tick", input, ...label);
  }

  // Said aloud by a screen reader, and shown for a moment.
  let fading = 0;
  function announce(text) {
    byId("said").textContent = text;
    clearTimeout(fading);
    fading = setTimeout(() => { byId("said").textContent = ""; }, 4000);
  }

  return { STATUSES, OUTLINE, HALO, HOLLOW, byId, el, quoted, icon, ringIcon, tally, button, tick, announce };
})();
