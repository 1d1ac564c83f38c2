/* SPDX-License-Identifier: GPL-3.0-or-later */
// Diameter along each limb, with its spread and the healthy lumen expected.
import { h, s } from "./dom.js";
import { LIMBS, LIMB_NAMES } from "./words.js";

const WIDE = 520, HIGH = 132, LEFT = 34, RIGHT = 510, TOP = 12, BOTTOM = 108;

function curve(limb, profile, longest, widest) {
  const x = (mm) => LEFT + ((RIGHT - LEFT) * mm) / longest, y = (mm) => BOTTOM - ((BOTTOM - TOP) * mm) / widest;
  const path = (values) => values.map((v, i) => `${i ? "L" : "M"}${x(profile.position_mm[i]).toFixed(1)} ${y(v).toFixed(1)}`).join("");
  const high = profile.diameter_mm.map((d, i) => d + profile.sd_mm[i]), low = profile.diameter_mm.map((d, i) => d - profile.sd_mm[i]);
  const back = low.map((v, i) => `L${x(profile.position_mm[i]).toFixed(1)} ${y(v).toFixed(1)}`).reverse().join("");
  const marks = [];
  for (let mm = 0; mm <= widest; mm++) {
    marks.push(s("path", { class: "axis", d: `M${LEFT} ${y(mm)}H${RIGHT}` }), s("text", { x: LEFT - 6, y: y(mm) + 4, "text-anchor": "end" }, mm));
  }
  for (let mm = 0; mm <= longest; mm += 5) marks.push(s("text", { x: x(mm), y: BOTTOM + 15, "text-anchor": "middle" }, mm));
  return s("svg", { class: "curve", viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": `Diameter in mm along the ${LIMB_NAMES[limb]}` },
    ...marks, s("path", { class: `band ink-${limb}`, d: `${path(high)}${back}Z` }),
    s("path", { class: `healthy limb-${limb}`, d: path(profile.reference_mm) }), s("path", { class: `line limb-${limb}`, d: path(profile.diameter_mm) }));
}

/** @param {any} m branchkeep.measurement/1 @returns {Element[]} */
export function curves(m) {
  const all = LIMBS.map((limb) => m.segments[limb].profile);
  if (!m.calibration.mm_per_px) return [h("p", { class: "held" }, "No scale: there are no positions and diameters in mm to draw.")];
  const longest = Math.max(5, ...all.flatMap((p) => p.position_mm.slice(-1)));
  const widest = Math.ceil(Math.max(1, ...all.flatMap((p) => p.diameter_mm.concat(p.reference_mm))));
  return [
    h("p", { class: "quiet" }, "Diameter [mm] over the way from the branch point [mm, projected]. Band: ± 1 SD. Dashes: healthy lumen expected."),
    ...LIMBS.flatMap((limb, i) => [h("h3", {}, LIMB_NAMES[limb]), all[i].position_mm.length ? curve(limb, all[i], longest, widest) : h("p", { class: "held" }, "contrast stops at its ostium: nothing to draw")]),
  ];
}
