/* SPDX-License-Identifier: GPL-3.0-or-later */
// Where millimetres come from, when the file does not say, or is not believed.
import { byId, h } from "./dom.js";
import { state } from "./state.js";

export function noScale() {
  return { way: "file", catheter: [], filled: "unknown" };
}

/** What was given for a kept measurement; ways that this form cannot say together are kept as they are. */
export function scaleOf(m) {
  const given = (m.calibration && m.calibration.given) || {}, ways = ["mm_per_px", "catheter", "marker"].filter((k) => given[k] !== null && given[k] !== undefined);
  if (!ways.length) return noScale();
  if (ways.length > 1) return { ...noScale(), way: "kept", given };
  const [way] = ways;
  if (way === "mm_per_px") return { ...noScale(), way: "entered", mm_per_px: given.mm_per_px };
  const [x1, y1, x2, y2, size] = given[way];
  return { way, catheter: [{ x: x1, y: y1 }, { x: x2, y: y2 }], size, filled: given.filled || "unknown" };
}

const SEVERAL = "several ways, as they were given";
const WAYS = { file: "as the file says", entered: "entered: mm per pixel", catheter: "catheter: two points across it, and its size", marker: "marker: two points, and its length" };

/** What goes into a request for a measurement. */
export function scaleRequest() {
  const { way, mm_per_px, catheter, size, filled } = state.scale;
  if (way === "entered" && mm_per_px > 0) return { mm_per_px };
  const points = (catheter || []).flatMap((p) => [p.x, p.y]);
  if (way === "catheter" && points.length === 4 && size > 0) return { catheter: [...points, size], filled };
  if (way === "marker" && points.length === 4 && size > 0) return { marker: [...points, size] };
  return way === "kept" ? state.scale.given : {};
}

/** Does a click now belong to the scale? */
export function takesClicks() {
  return ["catheter", "marker"].includes(state.scale.way) && (state.scale.catheter || []).length < 2;
}

/** @param {() => void} changed */
export function drawScale(changed) {
  const sc = state.scale;
  const number = (key, text) => h("label", {}, text, h("input", {
    type: "number", step: "any", min: 0, value: sc[key] ?? "", onchange: (e) => { sc[key] = Number(e.target.value) || null; changed(); },
  }));
  const parts = [h("label", {}, "Way to the scale", h("select", {
    onchange: (e) => { state.scale = { ...noScale(), way: e.target.value }; drawScale(changed); changed(); },
  }, Object.entries(sc.way === "kept" ? { kept: SEVERAL, ...WAYS } : WAYS).map(([way, text]) => h("option", { value: way, selected: way === sc.way }, text))))];
  if (sc.way === "entered") parts.push(number("mm_per_px", "mm per pixel"));
  if (sc.way === "catheter") {
    parts.push(number("size", "Size of the catheter [French]"), h("label", {}, "Filled with contrast at that place", h("select", {
      onchange: (e) => { sc.filled = e.target.value; changed(); },
    }, ["unknown", "yes", "no"].map((v) => h("option", { value: v, selected: v === sc.filled }, v)))));
  }
  if (sc.way === "marker") parts.push(number("size", "Length between the points [mm]"));
  const n = (sc.catheter || []).length;
  const two = ["catheter", "marker"].includes(sc.way);
  byId("scale").replaceChildren(h("div", { class: "form" }, parts), two ? h("div", { class: "row" },
    h("span", { class: "quiet" }, `${n} of 2 points set on the film${n < 2 ? ": click them now" : ""}`),
    h("button", { type: "button", onclick: () => { sc.catheter = []; drawScale(changed); changed(); } }, "Set them again")) : "");
  byId("scale-text").textContent = WAYS[sc.way] || SEVERAL;
}
