/* SPDX-License-Identifier: GPL-3.0-or-later */
// The card of devices: sizes with what is on the shelf, imaging beside, and the guide at every moment. Everything shown was computed by the server.
import { mark, standing, words } from "./card_parts.js";
import { h, s, visible } from "./dom.js";

const USES = { main_stent: "Main stent", side_stent: "Side-branch stent", pot_balloon: "POT balloon", side_balloon: "Side-branch balloon",
  kissing_main: "Kissing, main", kissing_side: "Kissing, side", predilatation: "Predilatation", guide: "Guide", wire: "Wire", microcatheter: "Microcatheter" };
const SIGNS = { fits: "M3 9 7 13 14 4", tight: "M3 9h11", no: "M4 4 13 13M13 4 4 13" };

const mm = (value, decimals) => (typeof value === "number" ? `${value.toFixed(decimals)} mm` : null);

function size(item) {
  if (item.french) return `${item.french} F`;
  if (!("target_mm" in item)) return "";
  return [mm(item.diameter_mm, 2) || h("span", { class: "held" }, "cannot say"), item.also_mm ? h("span", { class: "quiet" }, ` (${visible(item.also_mm)})`) : null];
}

function length(item) {
  if (typeof item.length_mm === "number") return `${item.length_mm} mm`;
  return typeof item.length_at_least_mm === "number" ? `≥ ${item.length_at_least_mm} mm` : "";
}

function imaging(item) {
  const i = item.by_imaging;
  if (!i) return "";
  return [[`${visible(i.mode)} `], i.size_by_lumen_mm !== null ? `lumen ${i.size_by_lumen_mm.toFixed(2)} ` : null, i.size_by_vessel_mm !== null ? `vessel ${i.size_by_vessel_mm.toFixed(2)}` : null];
}

function reach(r) {
  return h("p", { class: r.verdict === "above" ? "held" : "whom" }, `round balloon up to ${r.needed_mm.toFixed(2)} mm: ${r.verdict} ${r.maximum_mm.low.toFixed(2)}`,
    r.maximum_mm.high > r.maximum_mm.low ? ` to ${r.maximum_mm.high.toFixed(2)}` : null, ` mm, ${visible(r.by)}`);
}

function match(m) {
  return h("li", {}, h("div", { class: "line" }, h("b", {}, visible(m.name)), [mm(m.nominal_mm, 2), typeof m.length_mm === "number" ? `${m.length_mm} mm long` : null,
    typeof m.tip_load_g === "number" ? `tip ${m.tip_load_g} g` : null, typeof m.length_cm === "number" ? `${m.length_cm} cm` : null].filter(Boolean).join(", "), shelfStanding(m.standing)),
  m.wanted_size === false ? h("p", { class: "held" }, "the size wanted is not in stock") : null,
  m.pressure_why ? h("p", { class: "whom" }, typeof m.pressure_atm === "number" ? `${m.pressure_atm} atm ` : null, visible(m.pressure_why)) : null, m.reach ? reach(m.reach) : null, typeof m.recoil_pct === "number" ? h("p", { class: "whom" }, `recoil ${m.recoil_pct} %`) : null);
}

/** A value of a stock list may be invented, or the lab's own. @param {string} said */
function shelfStanding(said) {
  return said === "invented" || said === "entered" ? h("span", { class: said === "invented" ? "standing-tag weak" : "standing-tag" }, said) : standing(said);
}

function more(item) {
  const v = item.in_vivo_shortfall;
  return h("details", {}, h("summary", {}, `${USES[item.use] || words(item.use)}: why, and what is on the shelf`),
    h("p", {}, visible(item.why)), item.note ? h("p", { class: "whom" }, visible(item.note)) : null,
    item.shoulder ? h("p", { class: "whom" }, visible(item.shoulder)) : null, item.second_inflation ? h("p", {}, visible(item.second_inflation)) : null,
    typeof item.lengthening_mm === "number" ? h("p", {}, `POT beyond its nominal size lengthens it by about ${item.lengthening_mm} mm in the left main`) : null,
    (item.other_sources || []).map((o) => h("p", { class: o.agrees === "no" ? "held" : "whom" }, `${words(o.id)} would give ${o.target_mm.toFixed(2)} mm, so ${o.diameter_mm.toFixed(2)}`)), item.used_because ? h("p", { class: "whom" }, visible(item.used_because)) : null,
    typeof item.ratio_to_reference === "number" ? h("p", { class: "whom" }, `${item.ratio_to_reference.toFixed(2)} of the reference`) : null,
    (item.platforms || []).map((p) => h("p", { class: "whom" }, `${words(p.class)} design: label maximum typically ${p.label_maximum_mm.low} to ${p.label_maximum_mm.high} mm, proximal reference ${p.proximal_reference}; `, visible(p.do), " ", standing(p.standing))),
    item.by_imaging ? h("p", {}, "used: ", visible(item.by_imaging.used || "none"), "; ", visible(item.by_imaging.reason)) : null,
    item.shelf_match.length ? h("ul", { class: "rows" }, item.shelf_match.map(match)) : h("p", { class: "quiet" }, "nothing on the list"),
    v ? h("p", { class: "whom" }, `in ${visible(v.population)} the balloon stayed ${v.balloon_below_chart_mm.value} ± ${v.balloon_below_chart_mm.sd} mm below its chart, and recoil took ${v.recoil_mm.value} ± ${v.recoil_mm.sd} mm; ${visible(v.meaning)}`) : null);
}

function sizes(items) {
  const seen = items.some((i) => i.by_imaging), heads = ["", "size", "length", "pressure", "first on the shelf"].concat(seen ? ["by imaging"] : []);
  return h("table", { class: "space sizes" }, h("thead", {}, h("tr", {}, heads.map((t) => h("th", { scope: "col" }, t)))),
    h("tbody", {}, items.map((i) => h("tr", {}, h("th", { scope: "row" }, USES[i.use] || words(i.use)), h("td", {}, size(i)), h("td", {}, length(i)),
      h("td", {}, typeof i.pressure_atm === "number" ? `${i.pressure_atm} atm` : ""), h("td", {}, i.shelf_match.length ? visible(i.shelf_match[0].name) : "", i.shelf_match.length && i.shelf_match[0].wanted_size === false ? h("span", { class: "held" }, " (smaller)") : null), seen ? h("td", {}, imaging(i)) : null))));
}

/** The widest section in the guide: true to scale, 40 px a millimetre. */
function drawn(state, inner) {
  const box = Math.max(inner, state.needed_mm || 0) / 2 + 0.08;
  return h("figure", { class: "section" }, s("svg", { viewBox: `${-box} ${-box} ${2 * box} ${2 * box}`, width: 80 * box, height: 80 * box, role: "img", "aria-label": `section: ${visible(state.widest_section || "")}` },
    s("circle", { r: inner / 2, class: "lumen" }),
    state.section.map((c) => s("circle", { cx: c.place_mm[0], cy: c.place_mm[1], r: c.diameter_mm / 2, class: c.part === "wire" ? "thing wire" : "thing" }, s("title", {}, `${visible(c.of)}, ${c.part}, ${c.diameter_mm} mm`)))),
  h("figcaption", {}, `needs ${mm(state.needed_mm, 2) || "cannot say"}, the guide has ${inner.toFixed(2)} mm`));
}

function verdict(one, chosen) {
  const said = one.verdict || "cannot say";
  return h("td", { class: one.french === chosen ? "chosen" : null }, h("span", { class: `fit ${said === "no" ? "no" : said === "tight" ? "tight" : "fits"}` },
    SIGNS[said] ? s("svg", { viewBox: "0 0 17 17", width: 13, height: 13, "aria-hidden": "true" }, s("path", { d: SIGNS[said], class: "stroke" })) : null, said));
}

function guide(g) {
  const chosen = g.verdicts_for_french;
  return [h("h3", {}, g.decided_french ? `Guide in use: ${g.decided_french} F` : null, g.decided_french ? "; " : null, g.french ? `Guide: ${g.french} F takes every planned moment` : "Guide: none up to 8 F takes every planned moment"),
    h("table", { class: "space guides" }, h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "moment"), g.guides.map((x) => h("th", { scope: "col", class: x.french === chosen ? "chosen" : null }, `${x.french} F`, x.in_stock === "no" ? h("span", { class: "quiet" }, " not listed") : null)))),
      h("tbody", {}, g.states.map((x) => h("tr", { class: x.when === "planned" ? null : "quiet" }, h("th", { scope: "row" }, visible(x.moment), x.when === "planned" ? null : h("span", { class: "quiet" }, " · if needed")), x.in.map((one) => verdict(one, chosen)))))),
    h("details", {}, h("summary", {}, `What decides, in ${chosen} F`), g.states.map((x) => h("div", { class: "item" }, h("div", { class: "line" }, h("b", {}, visible(x.moment)), x.verdict || "cannot say"), h("p", { class: "whom" }, visible(x.by || ""), (x.by || "").startsWith("packing") ? null : ` (${visible(x.widest_section || "")})`, x.published_rule_french ? ` · published: ${x.published_rule_french} F` : null), drawn(x, g.inner_mm)))),
    h("details", {}, h("summary", {}, "Guide extension, and wire for an exchange"),
      h("ul", {}, g.extension.map((e) => h("li", {}, `${e.french} F extension (${e.inner_mm.toFixed(2)} mm): main stent beside the side-branch wire ${e.main_stent_and_side_wire || "cannot say"}, kissing ${e.kissing || "cannot say"}`))),
      h("p", {}, `Exchange of a catheter of ${g.exchange.for_catheter_cm} cm needs ${g.exchange.wire_needed_cm} cm of wire; the standard ${g.exchange.standard_wire_cm} cm ${g.exchange.standard_wire_is_enough === "yes" ? "is" : "is not"} enough.`),
      h("ul", {}, g.exchange.ways.map((w) => h("li", {}, visible(w)))))];
}

function kissing(k) {
  if (!k) return null;
  return [h("h3", {}, "Kissing pair, where both overlap"),
    h("p", {}, `${k.axes_mm[0].toFixed(2)} × ${k.axes_mm[1].toFixed(2)} mm; belt as round ${k.perimeter_diameter_mm.toFixed(2)} mm, area as round ${k.lumped_diameter_mm.toFixed(2)} mm`),
    k.platform ? h("p", { class: "whom" }, `belt against the stent's maximum: ${k.platform.perimeter} (${visible(k.platform.by)}); ${visible(k.platform.meaning)}`) : null];
}

/** @param {any} answer @returns {any[]} */
export function devicesCard(answer) {
  return [
    answer.alarms.map((a) => h("p", { class: "alarm" }, visible(a.text), " ", shelfStanding(a.standing))),
    answer.prompts.map((p) => h("p", { class: "held" }, visible(p.text), " ", standing(p.standing))),
    h("p", { class: "said" }, `Sized for: ${words(answer.strategy)}.`),
    answer.items.filter((i) => i.hold).map((i) => h("p", { class: "held" }, `${USES[i.use] || words(i.use)}, held back: ${visible(i.hold)}`)),
    sizes(answer.items), answer.items.map(more), kissing(answer.kissing), guide(answer.guide),
    h("details", {}, h("summary", {}, "Calcium before the stent"), h("ul", { class: "rows" }, answer.calcium.triggers.map((t) => h("li", {}, h("div", { class: "line" }, mark(t.met), visible(t.text), t.value === null ? null : `score ${t.value}`, standing(t.standing)))))),
    answer.branching ? h("details", {}, h("summary", {}, "Branching laws"), h("ul", {}, answer.branching.laws.map((l) => h("li", {}, `${words(l.id)}: mother ${l.mother_mm.toFixed(2)} mm; agrees with data at this ratio: ${l.agrees_with_data_at_this_ratio}`)))) : null,
  ];
}
