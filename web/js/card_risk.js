/* SPDX-License-Identifier: GPL-3.0-or-later */
// The card of risk: each published model by itself, its factors, what it can say and about what. Nothing is added up.
import { amount, certainty, mark, rate, standing, whom } from "./card_parts.js";
import { h, visible } from "./dom.js";

// What the model says of this case; the order is from the most to the least direct.
function says(m) {
  const said = [];
  if (m.unprotected_pct) said.push(`${rate(m.unprotected_pct)} of branches without a wire lost, in its stratum`);
  if (m.stratum_pct) said.push(`${rate(m.stratum_pct)} in its stratum (${visible(m.stratum)})`);
  if (m.relative_odds !== null) said.push(`odds ${m.relative_odds_at_least ? "at least " : ""}${m.relative_odds} times those without any factor; no percentage`);
  else if (m.relative_odds_between && typeof m.relative_odds_between.high === "number") said.push(`odds between ${m.relative_odds_between.low} and ${m.relative_odds_between.high} times those without any factor`);
  else if (m.relative_odds_between) said.push(`odds at least ${m.relative_odds_between.low} times those without any factor`);
  if (m.complex) said.push(m.complex === "unknown" ? "complex or not: cannot say" : `complex: ${m.complex}`);
  if (typeof m.predicted_stenosis_pct === "number") said.push(`ostial stenosis by the angle ${m.predicted_stenosis_pct} %`);
  return said.length ? said.join("; ") : "cannot say for this case";
}

function factor(f) {
  return h("li", { class: "ruled" }, mark(f.present, f.present), h("div", {}, h("div", { class: "line" }, h("span", {}, visible(f.text)), h("span", { class: "amount" }, amount(f))),
    certainty(f.threshold_certainty_pct, f.threshold_certainty)));
}

function model(m) {
  return h("li", {}, h("div", { class: "line" }, h("b", {}, visible(m.name))), h("p", { class: "said" }, says(m)), whom(m),
    m.whole_population_pct ? h("p", { class: "whom" }, `In all of its population: ${rate(m.whole_population_pct)}.`) : null,
    m.factors.length ? h("details", {}, h("summary", {}, `Factors: ${m.factors.filter((f) => f.present === "yes").length} present, ${m.factors.filter((f) => f.present === "unknown").length} not known`),
      h("ul", { class: "factors" }, m.factors.map(factor))) : null);
}

/** @param {any} answer @returns {any[]} */
export function riskCard(answer) {
  const applies = answer.models.filter((m) => m.applies), not = answer.models.filter((m) => !m.applies);
  const able = applies.filter((m) => says(m) !== "cannot say for this case"), unable = applies.filter((m) => !able.includes(m));
  return [
    h("ul", { class: "rows" }, able.map(model)),
    unable.length ? h("details", {}, h("summary", {}, `Made for such a case, but cannot say (${unable.length})`), h("ul", { class: "rows" }, unable.map(model))) : null,
    not.length ? h("details", {}, h("summary", {}, `Not made for this case (${not.length})`),
      h("ul", { class: "rows" }, not.map((m) => h("li", {}, h("b", {}, visible(m.name)), ": ", visible(m.why_not))))) : null,
    h("details", {}, h("summary", {}, "Where the literature contradicts itself"),
      answer.conflicts.map((c) => [h("h3", {}, visible(c.about)), h("ul", { class: "rows" }, c.says.map((x) => h("li", {}, visible(x.text), " ", standing(x.standing))))])),
  ];
}
