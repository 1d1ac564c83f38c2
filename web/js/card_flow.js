/* SPDX-License-Identifier: GPL-3.0-or-later */
// The cards of flow and territory: pressures before and after, and the muscle behind each daughter.
import { words } from "./card_parts.js";
import { h, visible } from "./dom.js";
import { LIMBS, LIMB_NAMES } from "./words.js";

const interval = (q) => (q ? `${q.value} (${q.low} to ${q.high})` : "cannot say");

function row(name, limb) {
  return h("tr", {}, h("th", { scope: "row" }, name), h("td", {}, interval(limb.ffr)), h("td", {}, limb.p_le_080_pct === null ? "cannot say" : `${limb.p_le_080_pct} %`),
    h("td", {}, limb.flow_ml_min === null ? "cannot say" : limb.flow_ml_min));
}

function table(caption, rows) {
  return h("table", { class: "space" }, h("caption", {}, caption),
    h("thead", {}, h("tr", {}, ["", "FFR, 90 % interval", "at or below 0.80", "mL/min"].map((t) => h("th", { scope: "col" }, t)))), h("tbody", {}, rows));
}

/** @param {any} answer */
export function flowCard(answer) {
  if (!answer.before) return [h("p", { class: "held" }, "cannot say")];
  return [
    (answer.measured || []).map((m) => h("p", { class: "said" }, `measured ${words(m.index)} ${m.value}, ${LIMB_NAMES[m.limb] || words(m.limb)}: this leads`)),
    table("computed, as it is", LIMBS.filter((l) => answer.before[l]).map((l) => row(LIMB_NAMES[l], answer.before[l]))),
    answer.after.map((a) => table(`computed, after ${words(a.strategy)}${a.same_as.length ? ` (same for ${a.same_as.map(words).join(", ")})` : ""}`,
      ["distal", "side"].map((l) => row(LIMB_NAMES[l], a[l])))),
    h("details", {}, h("summary", {}, "What is assumed"), h("ul", {}, answer.assumptions.map((t) => h("li", {}, visible(t))))),
  ];
}

/** @param {any} answer */
export function territoryCard(answer) {
  return [
    h("table", { class: "space" }, h("thead", {}, h("tr", {}, ["", "muscle, g (90 % interval)", "of the ventricle, %", "by"].map((t) => h("th", { scope: "col" }, t)))),
      h("tbody", {}, ["side", "distal"].map((l) => h("tr", {}, h("th", { scope: "row" }, LIMB_NAMES[l]), h("td", {}, interval(answer[l] && answer[l].mass_g)),
        h("td", {}, interval(answer[l] && answer[l].mass_pct)), h("td", {}, answer[l] && answer[l].mass_g ? words(answer[l].mass_g.method) : ""))))),
    answer.rules.map((r) => h("p", {}, `${visible(r.text)}: `, h("b", {}, r.met === "unknown" ? "not known" : r.met))),
  ];
}
