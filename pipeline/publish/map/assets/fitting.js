"use strict";
// From which zoom on there is room for a symbol each: worked out in one pass along the Morton order, since every filter
// asks for it anew.
const KerfbookFitting = (() => {
  const LAST_FAR_ZOOM = 18;
  const FULLEST_SHARE = 0.98;

  // The squares of 512 pixels that cores fall into, at every zoom at once.
  class Squares {
    // most: how many symbols a square has room for.
    constructor(most) {
      Object.assign(this, { most, added: 0, x: 0, y: 0 });
      this.squares = new Int32Array(LAST_FAR_ZOOM);
      this.crowded = new Int32Array(LAST_FAR_ZOOM);
      // How many cores came before the square that is being filled.
      this.begun = new Int32Array(LAST_FAR_ZOOM);
    }

    // Cores come in Morton order. A square of a zoom has the coordinates' upper bits, as many as the zoom less one.
    add(x, y) {
      if (this.added) this.finish(Math.clz32((this.x ^ x) | (this.y ^ y)));
      this.x = x;
      this.y = y;
      this.added += 1;
    }

    // From this zoom on, what comes next lies in another square.
    finish(from) {
      for (let zoom = from; zoom < LAST_FAR_ZOOM; zoom += 1) {
        this.squares[zoom] += 1;
        if (this.added - this.begun[zoom] > this.most) this.crowded[zoom] += 1;
        this.begun[zoom] = this.added;
      }
    }

    // The lowest zoom at which no more than the fullest squares are crowded.
    zoom() {
      if (!this.added) return 1;
      this.finish(1);
      for (let zoom = 1; zoom < LAST_FAR_ZOOM; zoom += 1) {
        if (Math.ceil((this.squares[zoom] - 1) * FULLEST_SHARE) < this.squares[zoom] - this.crowded[zoom]) return zoom;
      }
      return LAST_FAR_ZOOM;
    }
  }

  return { Squares };
})();
