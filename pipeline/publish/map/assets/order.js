"use strict";
// Rows put in order, also a million of them.
const KerfbookOrder = (() => {
  // Places by the whole number that each has, those without one (NaN) last; equals stay as they stand.
  // A key and its row make one double: a browser sorts plain doubles several times faster than by a function.
  function byKey(places, keyOf, isDown = false) {
    const n = places.length;
    let [low, high] = [Infinity, -Infinity];
    const keys = new Float64Array(n);
    for (let p = 0; p < n; p += 1) {
      const key = keyOf(places[p]);
      keys[p] = key;
      if (key < low) low = key;
      if (key > high) high = key;
    }
    const last = high - low + 1;
    const ranked = (key) => (Number.isNaN(key) ? last : isDown ? high - key : key - low);
    if (last * n > Number.MAX_SAFE_INTEGER) {
      const order = Array.from(keys, (key, p) => [ranked(key), p]).sort((a, b) => a[0] - b[0]);
      return Int32Array.from(order, (pair) => places[pair[1]]);
    }
    for (let p = 0; p < n; p += 1) keys[p] = (low > high ? 0 : ranked(keys[p])) * n + p;
    keys.sort();
    const found = new Int32Array(n);
    for (let p = 0; p < n; p += 1) found[p] = places[keys[p] % n];
    return found;
  }

  return { byKey };
})();
