"use strict";
// Elements built from text, never from markup: headings, buttons, tick boxes, texts of the register.
const KerfbookElements = (() => {
  const byId = (id) => document.getElementById(id);

  // A string among the children becomes a text node: markup in it stays text.
  function el(name, className, ...children) {
    const made = document.createElement(name);
    if (className) made.className = className;
    made.append(...children.filter((child) => child !== null && child !== undefined));
    return made;
  }

  // Text from a register, isolated so that a direction mark in it turns nothing but itself.
  const quoted = (text) => el("bdi", "", text);

  function svg(name, attributes) {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    Object.entries(attributes).forEach(([key, value]) => made.setAttribute(key, value));
    return made;
  }

  function button(label, onClick, className = "more") {
    const made = el("button", className, label);
    made.type = "button";
    made.addEventListener("click", onClick);
    return made;
  }

  // A tick box with its label.
  function tickBox(isOn, onChange, ...label) {
    const input = el("input", "");
    input.type = "checkbox";
    input.checked = isOn;
    input.addEventListener("change", () => onChange(input.checked));
    return el("label", "tick", input, ...label);
  }

  // Read out by a screen reader, and shown for a moment.
  let fading = 0;
  function announce(text) {
    byId("announcement").textContent = text;
    clearTimeout(fading);
    fading = setTimeout(() => { byId("announcement").textContent = ""; }, 4000);
  }

  async function copyText(text, announcement) {
    try {
      await navigator.clipboard.writeText(text);
    } catch {
      // No clipboard for this page, or not allowed: the old way, by a selection.
      const box = el("textarea", "unseen");
      box.value = text;
      (document.querySelector("dialog[open]") || document.body).append(box);
      box.select();
      document.execCommand("copy");
      box.remove();
    }
    announce(announcement);
  }

  return { byId, el, quoted, svg, button, tickBox, announce, copyText };
})();
