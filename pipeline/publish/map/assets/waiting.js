"use strict";
// What a reader does while the page still reads the details of the cores: taken at once, and carried out when they are there.
const KerfbookWaiting = (() => {
  const { byId } = KerfbookElements;
  const HELD = ["click", "change", "input", "toggle", "keydown", "hashchange"];
  // A choice or a letter is in its field already, and no other event opens or follows anything.
  const UNDONE = new Set(["click"]);

  // Returns what to call when the details are there.
  function hold() {
    const held = [];
    const keep = (event) => {
      if (event.type === "keydown" && event.key !== "Enter") return;
      event.stopImmediatePropagation();
      if (UNDONE.has(event.type)) event.preventDefault();
      held.push([event.target, event]);
      byId("progress").hidden = false;
    };
    HELD.forEach((type) => window.addEventListener(type, keep, true));
    return () => {
      HELD.forEach((type) => window.removeEventListener(type, keep, true));
      byId("progress").hidden = true;
      held.forEach(([target, event]) => target.dispatchEvent(new event.constructor(event.type, event)));
    };
  }

  return { hold };
})();
