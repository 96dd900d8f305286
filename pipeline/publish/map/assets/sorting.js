"use strict";
// Rows put in order, even a million of them.
const KerfbookSorting = (() => {
  // Rows sorted by the whole number that keyOf gives each, those without one (NaN) last; ties keep their order.
  // A key and its row make one double: a browser sorts plain doubles several times faster than by a function.
  function byKey(rows, keyOf, isDown = false) {
    const n = rows.length;
    let [low, high] = [Infinity, -Infinity];
    const keys = new Float64Array(n);
    for (let p = 0; p < n; p += 1) {
      const key = keyOf(rows[p]);
      keys[p] = key;
      if (key < low) low = key;
      if (key > high) high = key;
    }
    const last = high - low + 1;
    const ranked = (key) => (Number.isNaN(key) ? last : isDown ? high - key : key - low);
    if (last * n > Number.MAX_SAFE_INTEGER) {
      const order = Array.from(keys, (key, p) => [ranked(key), p]).sort((a, b) => a[0] - b[0]);
      return Int32Array.from(order, (pair) => rows[pair[1]]);
    }
    for (let p = 0; p < n; p += 1) keys[p] = (low > high ? 0 : ranked(keys[p])) * n + p;
    keys.sort();
    const found = new Int32Array(n);
    for (let p = 0; p < n; p += 1) found[p] = rows[keys[p] % n];
    return found;
  }

  return { byKey };
})();
