/* SPDX-License-Identifier: GPL-3.0-or-later */
// The card of protection: the case among the published strata, the rules, the comparisons, what stays exposed, the harms.
import { amount, certainty, mark, rate, standing, whom, words } from "./card_parts.js";
import { h, s, visible } from "./dom.js";
import { label } from "./words.js";

const SIDE = 232, LEFT = 54, TOP = 12, WIDTH = 500;

function interval(axis, at, across, vertical) {
  if (typeof axis.low !== "number") return null;
  const [a, b] = [at(axis.low), at(axis.high)];
  return vertical ? s("path", { class: "spread", d: `M${across} ${a}V${b}M${across - 5} ${a}h10M${across - 5} ${b}h10` })
    : s("path", { class: "spread", d: `M${a} ${across}H${b}M${a} ${across - 5}v10M${b} ${across - 5}v10` });
}

// One stratum in words, beside the picture.
function legend(y, where, comparison) {
  if (!comparison) return null;
  return [where, `lost: wire ${comparison.pct_a} %, none ${comparison.pct_b} %`, comparison.standing === "seen" ? "registry, operators chose" : visible(comparison.design)]
    .map((line, i) => s("text", { x: LEFT + SIDE + 14, y: y + i * 15, class: i === 1 ? null : "quiet" }, line));
}

// Main-vessel stenosis along, side-branch stenosis up; each published stratum is a region with its two arms.
function picture(answer) {
  const place = answer.place, by = Object.fromEntries(answer.comparison.map((c) => [c.id, c]));
  const x = (pct) => LEFT + (pct * SIDE) / 100, y = (pct) => TOP + SIDE - (pct * SIDE) / 100, line = place.line_pct;
  const region = (id, x0, y0, x1, y1) => s("rect", { class: `region ${id}`, x: x(x0), y: y(y1), width: x(x1) - x(x0), height: y(y0) - y(y1), fill: `url(#hatch-${id})` });
  const hatch = (id, angle) => s("pattern", { id: `hatch-${id}`, width: 7, height: 7, patternUnits: "userSpaceOnUse", patternTransform: `rotate(${angle})` }, s("path", { d: "M0 0V7", class: "hatch" }));
  const main = place.main_stenosis_pct, side = place.side_stenosis_pct;
  const was = answer.place_before, from = was && was.main_stenosis_pct && was.side_stenosis_pct ? [was.main_stenosis_pct.value, was.side_stenosis_pct.value] : null;
  const way = from && main && side ? [s("path", { class: "way", d: `M${x(from[0])} ${y(from[1])}L${x(main.value)} ${y(side.value)}` }), s("circle", { class: "was", cx: x(from[0]), cy: y(from[1]), r: 5 })] : null;
  const point = main && side ? [interval(main, x, y(side.value), false), interval(side, y, x(main.value), true), s("circle", { class: "here", cx: x(main.value), cy: y(side.value), r: 5 })]
    : s("text", { x: LEFT + 8, y: TOP + SIDE - 12, class: "quiet" }, "this case: cannot say, a stenosis is missing");
  const said = main && side ? `this case: main ${place.main_at_least ? "at least " : ""}${main.value} %, side ${side.value} %` : "this case cannot be placed";
  return h("figure", { class: "strata" }, s("svg", { viewBox: `0 0 ${WIDTH} ${SIDE + 52}`, role: "img", "aria-label": `${said}; published strata from ${line} %` },
    s("defs", {}, hatch("side", 60), hatch("main", -60), hatch("both", 0)),
    s("rect", { class: "frame", x: x(0), y: y(100), width: SIDE, height: SIDE }),
    region("side", 0, line, line, 100), region("main", line, 0, 100, line), region("both", line, line, 100, 100),
    [0, line, 100].map((v) => [s("text", { class: "quiet", x: x(v), y: TOP + SIDE + 16, "text-anchor": "middle" }, v), s("text", { class: "quiet", x: LEFT - 8, y: y(v) + 4, "text-anchor": "end" }, v)]),
    s("text", { class: "quiet", x: x(50), y: TOP + SIDE + 34, "text-anchor": "middle" }, "main vessel stenosis [%]"),
    s("text", { class: "quiet", transform: `translate(14 ${y(50)}) rotate(-90)`, "text-anchor": "middle" }, "side branch stenosis [%]"),
    way, point,
    legend(TOP + 12, `both ≥ ${line} %`, by.practice_60_60), legend(TOP + 82, `side ≥ ${line} %`, by.cobis3_side_60),
    legend(TOP + 152, `main ≥ ${line} %`, by.cobis3_main_60)),
  h("figcaption", {}, said, main && main.level_pct ? `; bars: ${main.level_pct} % interval of the measurement` : "", from ? "; hollow: as it is, without the what-if" : ""));
}

// "rules.side_60.met" -> "side 60"
function flip(f) {
  return h("li", {}, `${words(f.what.replace(/^(rules|comparison)\./, "").replace(/\.met$/, "").replaceAll(".", ": "))}: ${visible(f.from)} → `, h("b", {}, visible(f.to)));
}

// What if the stenoses were others? The server answers; the case is not changed.
function whatIf(document_, figure, ask) {
  const input = (name) => h("input", { type: "number", min: 0, max: 100, step: 1, "aria-label": `what if: ${name} [%]` });
  const main = input("main vessel stenosis"), side = input("side branch stenosis"), told = h("div", { class: "quiet", role: "status" });
  const set = (path, limb, value) => (limb ? [`${path}.mld_mm=null`, `${path}.stenosis_pct=${value}`] : [`${path}=${value}`]);
  const changes = () => [
    ...(main.value === "" ? [] : [...set("anatomy.segments.proximal", true, main.value), ...set("anatomy.segments.distal", true, main.value), ...set("anatomy.core_stenosis_pct", false, main.value)]),
    ...(side.value === "" ? [] : set("anatomy.segments.side", true, side.value))];
  const show = async (event) => {
    event.preventDefault();
    try {
      const answer = await ask({ document: document_, what_if: changes() });
      figure.replaceChildren(picture(answer));
      told.replaceChildren(answer.flips && answer.flips.length ? h("ul", {}, answer.flips.map(flip)) : "nothing turns over");
    } catch (error) { told.replaceChildren(visible(error.message)); }
  };
  return h("form", { class: "what-if", onsubmit: show }, h("span", { class: "quiet" }, "What if, in %: "), h("label", {}, "main vessel ", main), h("label", {}, "side branch ", side), h("button", { type: "submit" }, "Show"), told);
}

function rule(r) {
  return h("li", { class: "ruled" }, mark(r.met), h("div", {}, h("div", { class: "line" }, h("b", {}, visible(r.text)), h("span", { class: "amount" }, amount(r))),
    certainty(r.threshold_certainty_pct, r.threshold_certainty), h("p", { class: "whom" }, standing(r.standing))));
}

// "anatomy.segments.side.stenosis_pct" -> "side stenosis"
function inputName(path) {
  if (path.includes("calibration")) return "the scale";
  return label(path.replace(/^anatomy\.(segments\.|angles\.)?/, "").replace(".", "_")).replace(/ \[.*/, "");
}

function stable(answer) {
  if (answer.stability_pct === null) return h("p", { class: "said" }, "How stable this picture is cannot be said.");
  return h("p", { class: "said" }, `Measured again, these rules would look the same in ${answer.stability_pct} of 100. `,
    answer.stability_if_settled_pct > answer.stability_pct ? `What would settle most: ${inputName(answer.decisive_input)}, known exactly (then ${answer.stability_if_settled_pct} of 100).` : "");
}

function comparison(c) {
  const arm = (name, pct, interval_) => h("span", { class: "arm" }, `${visible(name)} `, h("b", {}, pct === null ? "no rate" : interval_ ? rate(interval_) : `${pct} %`));
  const odds = c.odds_ratio ? ` odds ratio ${c.odds_ratio.value} (${c.odds_ratio.low} to ${c.odds_ratio.high})` : "";
  return h("li", {}, h("div", { class: "line" }, arm(c.arm_a, c.pct_a, c.interval_a), h("span", { class: "quiet" }, "against"), arm(c.arm_b, c.pct_b, c.interval_b), odds),
    h("p", { class: "whom" }, visible(c.design), ". This case belongs to it: ", mark(c.this_case_belongs, c.this_case_belongs)), whom(c));
}

function exposed(list) {
  return list.length ? list.map((e) => `${e.n} ${words(e.id)}${e.only_if ? ` (${visible(e.only_if)})` : ""}`).join(", ") : "none";
}

function harm(x) {
  return h("li", {}, h("b", {}, visible(x.name)), x.value === null ? "" : ` ${x.value} ${x.unit === "1" ? "(ratio)" : visible(x.unit)}`, ". ", visible(x.text), " ", standing(x.standing));
}

function territory(t) {
  if (!t) return "cannot say";
  const part = (m, unit) => (m ? `${m.value} ${unit} (${m.low} to ${m.high})` : "");
  return [part(t.mass_pct, "% of the left ventricle"), part(t.mass_g, "g")].filter(Boolean).join(", ") + `, by ${visible(t.method)}, grams not verified`;
}

function stake(x) {
  const q = (value, unit) => (value ? `${value.value} ${unit}` : "not known");
  return [h("p", {}, `Side branch: reference ${q(x.side_reference_mm, "mm")}, length ${q(x.side_length_mm, "mm")}, pressure ${x.side_pressure ? `${words(x.side_pressure.index)} ${x.side_pressure.value.value}` : "not measured"}; `,
    `viable muscle: ${x.viable}, last patent vessel: ${x.last_patent_vessel}; territory: ${territory(x.territory)}; FFR now: ${x.side_ffr_before ? `${x.side_ffr_before.value.toFixed(2)} (${x.side_ffr_before.low.toFixed(2)} to ${x.side_ffr_before.high.toFixed(2)}), computed` : "cannot say"}. `, x.published ? visible(x.published) : ""),
  h("ul", { class: "rows" }, x.consequences.map(harm))];
}

/** @param {any} answer @param {any} document_ @param {(body: any) => Promise<any>} ask @returns {any[]} */
export function protectCard(answer, document_, ask) {
  const figure = h("div", {}, picture(answer));
  const near = (c) => c.this_case_belongs === "yes" || (c.this_case_belongs === "unknown" && c.stratum_met === "yes");
  const belongs = answer.comparison.filter(near), others = answer.comparison.filter((c) => !near(c));
  return [
    figure, whatIf(document_, figure, ask), stable(answer),
    h("ul", { class: "rows" }, answer.rules.map(rule)),
    h("h3", {}, "Published comparisons whose stratum this case meets"), belongs.length ? h("ul", { class: "rows" }, belongs.map(comparison)) : h("p", { class: "quiet" }, "none, as far as can be told"),
    h("details", {}, h("summary", {}, `Other comparisons, dissent among them (${others.length})`), h("ul", { class: "rows" }, others.map(comparison))),
    h("h3", {}, `Main vessel opened with nothing in the side branch, ${words(answer.strategy)}`), h("p", {}, exposed(answer.exposed_steps)),
    h("details", {}, h("summary", {}, "When the wire leaves, and what is then exposed"),
      h("ul", { class: "rows" }, answer.wire_leaves.map((w) => h("li", {}, w.default ? h("b", {}, "Default here. ") : "", visible(w.text), ` Exposed after it has left: ${exposed(w.exposed_steps)}. `, standing(w.standing))))),
    h("details", {}, h("summary", {}, "What is at stake"), stake(answer.stake)),
    h("details", {}, h("summary", {}, `Harms of the wire (${answer.harms.length})`), h("ul", { class: "rows" }, answer.harms.map(harm))),
  ];
}
