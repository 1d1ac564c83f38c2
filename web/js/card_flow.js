/* SPDX-License-Identifier: GPL-3.0-or-later */
// The cards of flow and territory: pressures before and after each strategy, the pull-back, and the muscle behind each daughter.
import { words } from "./card_parts.js";
import { h, s, visible } from "./dom.js";
import { LIMBS, LIMB_NAMES } from "./words.js";

const WIDE = 520, HIGH = 170, LEFT = 38, RIGHT = 508, TOP = 10, BOTTOM = 142, TREAT_AT = 0.8;

const interval = (q) => (q ? `${q.value} (${q.low} to ${q.high})` : "cannot say");
const ratio = (q) => (q ? `${q.value.toFixed(2)} (${q.low.toFixed(2)} to ${q.high.toFixed(2)})` : "cannot say");
const chance = (limb) => (limb && limb.p_le_080_pct !== null ? `${limb.p_le_080_pct} %` : "");
const columns = (names) => h("thead", {}, h("tr", {}, names.map((t) => h("th", { scope: "col" }, t))));

// What a wire read stands above everything that is computed.
function measured(list) {
  return list.map((m) => h("p", { class: "said" }, h("b", {}, `measured ${words(m.index)} ${m.value.value}`), `, ${LIMB_NAMES[m.limb] || words(m.limb)}${m.stage ? `, ${words(m.stage)}` : ""}: this leads`));
}

function beforeTable(before) {
  const wired = LIMBS.some((l) => before[l].measured);
  return h("table", { class: "space" }, h("caption", {}, "as it is"),
    columns(["", wired ? "measured" : null, "computed FFR, 90 % interval", "at or below 0.80", "mL/min", "at rest"].filter((t) => t !== null)),
    h("tbody", {}, LIMBS.map((l) => h("tr", {}, h("th", { scope: "row" }, LIMB_NAMES[l]), wired ? h("td", {}, before[l].measured ? `${before[l].measured.value}` : "") : null,
      h("td", {}, ratio(before[l].ffr)), h("td", {}, chance(before[l])), h("td", {}, before[l].flow_ml_min.toFixed(0)), h("td", {}, before[l].resting_pd_pa.toFixed(2))))));
}

function lesions(before) {
  const all = LIMBS.flatMap((l) => before[l].lesions.map((x) => h("li", {}, `${LIMB_NAMES[l]}, ${x.from_mm} to ${x.to_mm} mm: ${x.drop_mmhg} mmHg, ${x.share_of_limb_pct} % of what this limb loses`)));
  return all.length ? [h("h3", {}, "What each lesion takes"), h("ul", {}, all)] : null;
}

// Pd/Pa on the way down: through the proximal main vessel, then into both daughters.
function pullBack(before) {
  const curves = LIMBS.filter((l) => before[l].pull_back).map((limb) => ({ limb, ...before[limb].pull_back }));
  if (!curves.length) return null;
  const start = before.proximal.pull_back.position_mm.at(-1), from = (c) => (c.limb === "proximal" ? 0 : start);
  const longest = Math.max(...curves.map((c) => from(c) + c.position_mm.at(-1)));
  const lowest = Math.min(0.7, Math.floor(10 * Math.min(...curves.flatMap((c) => c.pd_pa))) / 10);
  const x = (mm) => LEFT + ((RIGHT - LEFT) * mm) / longest, y = (ratio) => BOTTOM - ((BOTTOM - TOP) * (ratio - lowest)) / (1 - lowest);
  const path = (c) => c.pd_pa.map((v, i) => `${i ? "L" : "M"}${x(from(c) + c.position_mm[i]).toFixed(1)} ${y(v).toFixed(1)}`).join("");
  const levels = [...Array(Math.round((1 - lowest) * 10) + 1).keys()].map((i) => 1 - i / 10).filter((v) => (1 - lowest <= 0.5 ? true : Math.round(v * 10) % 2 === 0));
  const along = [...Array(Math.floor(longest / 10) + 1).keys()].map((i) => i * 10);
  const ends = curves.filter((c) => c.limb !== "proximal").map((c) => s("text", { class: `ink-${c.limb}`, x: x(from(c) + c.position_mm.at(-1)) - 2, y: y(c.pd_pa.at(-1)) - 5, "text-anchor": "end" }, `${LIMB_NAMES[c.limb]} ${c.pd_pa.at(-1).toFixed(2)}`));
  return h("figure", { class: "pull-back" }, s("svg", { class: "curve", viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img",
    "aria-label": `Computed pull-back: ${curves.map((c) => `${LIMB_NAMES[c.limb]} ends at ${c.pd_pa.at(-1).toFixed(2)}`).join(", ")}` },
  levels.map((v) => [s("path", { class: "axis", d: `M${LEFT} ${y(v)}H${RIGHT}` }), s("text", { x: LEFT - 6, y: y(v) + 4, "text-anchor": "end" }, v.toFixed(1))]),
  along.map((mm) => s("text", { x: x(mm), y: BOTTOM + 15, "text-anchor": "middle" }, mm)),
  s("path", { class: "treat-at", d: `M${LEFT} ${y(TREAT_AT)}H${RIGHT}` }), s("path", { class: "axis", d: `M${x(start)} ${TOP}V${BOTTOM}` }),
  s("text", { x: x(start) + 4, y: BOTTOM - 4 }, "branch point"),
  curves.map((c) => s("path", { class: `line limb-${c.limb}`, d: path(c) })), ends),
  h("figcaption", { class: "quiet" }, "Pd/Pa at hyperaemia over the way from the start of the proximal main vessel [mm], computed; dashes: 0.80."));
}

function after(list) {
  const name = (a) => (a.strategy ? [a.strategy, ...a.same_as].map(words).join(", ") : visible(a.treatment));
  const limb = (a, l) => (a[l] ? ratio(a[l].ffr) : "cannot say");
  const band = (a) => (a.ostium && a.ostium.ffr_round !== a.ostium.ffr_oval
    ? h("p", { class: "whom" }, `${LIMB_NAMES[a.ostium.limb]} ostium narrowed ${a.ostium.stenosis_pct} % by the angle: ${a.ostium.ffr_oval.toFixed(2)} if oval, ${a.ostium.ffr_round.toFixed(2)} if as round as ${a.ostium.views === 2 ? "two views allow" : "one view allows"}`) : null);
  return h("table", { class: "space strategies" }, h("caption", {}, "computed FFR after treatment, 90 % interval"),
    columns(["", LIMB_NAMES.distal, "≤ 0.80", LIMB_NAMES.side, "≤ 0.80"]),
    h("tbody", {}, list.map((a) => h("tr", {}, h("th", { scope: "row" }, name(a), band(a), a.why_not ? h("p", { class: "held" }, visible(a.why_not)) : null),
      h("td", {}, limb(a, "distal")), h("td", {}, chance(a.distal)), h("td", {}, limb(a, "side")), h("td", {}, chance(a.side))))));
}

/** @param {any} answer */
export function flowCard(answer) {
  const wire = measured(answer.measured || []);
  if (!answer.before) return [wire, h("p", { class: "held" }, "computed: cannot say")];
  return [
    wire, beforeTable(answer.before), pullBack(answer.before), lesions(answer.before), after([...answer.after, ...answer.further]),
    h("details", {}, h("summary", {}, "What is assumed"), h("ul", {}, answer.assumptions.map((t) => h("li", {}, visible(t))))),
  ];
}

/** @param {any} answer */
export function territoryCard(answer) {
  return [
    h("table", { class: "space" }, columns(["", "muscle, g (90 % interval)", "of the ventricle, %", "by"]),
      h("tbody", {}, ["side", "distal"].map((l) => h("tr", {}, h("th", { scope: "row" }, LIMB_NAMES[l]), h("td", {}, interval(answer[l] && answer[l].mass_g)),
        h("td", {}, interval(answer[l] && answer[l].mass_pct)), h("td", {}, answer[l] && answer[l].mass_g ? words(answer[l].mass_g.method) : ""))))),
    h("p", {}, answer.lv_mass_g === null ? "Left ventricle: mass not known." : `Left ventricle: ${answer.lv_mass_g} g, ${answer.lv_mass_by === "entered" ? "as entered" : "from body size"}.`),
    answer.rules.map((r) => h("p", {}, `${visible(r.text)}: `, h("b", {}, r.met === "unknown" ? "not known" : r.met),
      r.threshold_certainty_pct === null ? "" : ` (line reached in ${r.threshold_certainty_pct} of 100 by what is not known of it)`)),
  ];
}
