/* SPDX-License-Identifier: GPL-3.0-or-later */
// Frames of the open cine: fetched ahead of need, the way one is going first, then nearest first; kept in memory up to a budget.
import { frameBytes } from "./api.js";

const BUDGET_BYTES = 400e6;
const AT_ONCE = 3; // the server decodes two at a time, one is on its way
const LEAD = 8;    // frames ahead before any behind

export class Frames {
  /** @param {string} cine @param {any} info */
  constructor(cine, info) {
    this.cine = cine;
    this.n = info.frames;
    this.wide = info.bytes_per_px === 2;
    this.room = Math.max(8, Math.floor(BUDGET_BYTES / (info.rows * info.columns * info.bytes_per_px)));
    this.have = new Map();
    this.asked = new Map();
    this.near = 1;
    this.way = 1; // +1 forwards, -1 backwards
    this.waiting = null; // {k, go, drop}: wanted, while enough is under way
    this.stopper = new AbortController();
    this.bad = new Set();
  }

  close() {
    this.stopper.abort();
    this.drop();
    this.have.clear();
  }

  now(k) {
    return this.have.get(k);
  }

  /** Rejects with an AbortError when a later one is wanted before this one could be asked for. @param {number} k */
  async get(k) {
    if (k !== this.near) this.way = Math.sign(k - this.near);
    this.near = k;
    const px = this.have.get(k) || await this.soon(k);
    this.ahead();
    return px;
  }

  // Asked for at once, or as the next one: a queue behind the hand would show where it was, not where it is.
  soon(k) {
    this.drop();
    if (this.asked.has(k) || this.asked.size < AT_ONCE) return this.fetch(k);
    return new Promise((resolve, reject) => {
      this.waiting = { k, go: () => this.fetch(k).then(resolve, reject), drop: () => reject(new DOMException("overtaken", "AbortError")) };
    });
  }

  drop() {
    if (this.waiting) this.waiting.drop();
    this.waiting = null;
  }

  fetch(k) {
    if (!this.asked.has(k)) {
      this.asked.set(k, frameBytes(this.cine, k, this.stopper.signal).then((bytes) => {
        const px = this.wide ? new Uint16Array(bytes) : new Uint8Array(bytes);
        this.have.set(k, px);
        this.forget();
        return px;
      }).finally(() => {
        this.asked.delete(k);
        if (this.waiting) this.waiting.go();
        this.waiting = null;
      }));
    }
    return this.asked.get(k);
  }

  distance(k) {
    return Math.abs(k - this.near);
  }

  forget() {
    while (this.have.size > this.room) {
      let far = this.near;
      for (const k of this.have.keys()) if (this.distance(k) > this.distance(far)) far = k;
      this.have.delete(far);
    }
  }

  lacks(k) {
    return k >= 1 && k <= this.n && this.distance(k) < this.room / 2 + 1 && !this.have.has(k) && !this.asked.has(k) && !this.bad.has(k);
  }

  wanted() {
    const reach = Math.min(this.room - 2, 2 * this.n);
    for (let d = 1; d <= LEAD; d++) if (this.lacks(this.near + d * this.way)) return this.near + d * this.way;
    for (let d = 1; d <= reach; d++) for (const k of [this.near + d, this.near - d]) if (this.lacks(k)) return k;
    return 0;
  }

  ahead() {
    while (this.asked.size < AT_ONCE && !this.stopper.signal.aborted) {
      const k = this.wanted();
      if (!k) return;
      this.fetch(k).then(() => this.ahead(), () => this.bad.add(k));
    }
  }
}

/** Grey for each stored value: straight between low (black) and high (white). */
export function greyTable(wide, low, high, inverted) {
  const n = wide ? 65536 : 256;
  const table = new Uint32Array(n);
  const span = Math.max(1e-6, high - low);
  for (let v = 0; v < n; v++) {
    let grey = Math.round(255 * Math.min(1, Math.max(0, (v - low) / span)));
    if (inverted) grey = 255 - grey;
    table[v] = 0xff000000 | (grey << 16) | (grey << 8) | grey;
  }
  return table;
}
