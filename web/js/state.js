/* SPDX-License-Identifier: GPL-3.0-or-later */
// The one plain object the page shows, and what of it survives a reload.

/**
 * @typedef {{x: number, y: number}} Point
 */
export const state = {
  about: null,
  cine: null,          // {id, info}
  frame: 1,
  clicks: /** @type {(Point | null)[]} */ ([null, null, null]),
  scale: /** @type {any} */ ({ way: "file", catheter: [], filled: "unknown" }),
  say: /** @type {any} */ ({ stage: "baseline", nitrate: "unknown", wire_in_limb: [], medina_threshold_pct: null, corrections: {} }), // say.js
  measurement: null,
  stale: false,        // clicks moved since it was measured
  trouble: null,       // why there is no measurement
  caseDoc: null,       // branchkeep.case/1 as opened or saved
  basedOn: 0,
  measurementAt: -1,   // where this measurement stands in the case; -1: not yet
  unsaved: false,
};

const KEY = "branchkeep";

/** Kept in this tab only, and by the browser only until the tab is closed. */
export function keep() {
  const { frame, clicks, scale, say, caseDoc, basedOn, measurementAt, unsaved } = state;
  try {
    sessionStorage.setItem(KEY, JSON.stringify({
      cine: state.cine && state.cine.id, frame, clicks, scale, say, caseDoc, basedOn, measurementAt, unsaved,
    }));
  } catch { /* no room: saving to the store still works */ }
}

export function kept() {
  try {
    return JSON.parse(sessionStorage.getItem(KEY) || "null");
  } catch {
    return null;
  }
}

export function nextLimb() {
  return state.clicks.findIndex((p) => p === null);
}
