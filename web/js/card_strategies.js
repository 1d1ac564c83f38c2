/* SPDX-License-Identifier: GPL-3.0-or-later */
// The card of strategies: three most fitting first, the rest on demand. Laid out, never chosen.
import { amount, certainty, mark, rate, standing, whom } from "./card_parts.js";
import { h, visible } from "./dom.js";

function condition(c) {
  return h("li", { class: "ruled" }, mark(c.met), h("div", {}, h("div", { class: "line" }, h("span", {}, visible(c.text)), h("span", { class: "amount" }, amount(c))),
    certainty(c.threshold_certainty_pct, c.threshold_certainty), h("p", { class: "whom" }, standing(c.standing))));
}

function kit(o) {
  if (o.steps_count === null) return "Steps and kit cannot be said: the order was not read.";
  const stop = o.if_the_angiogram_says_stop, count = (n, word) => `${n} ${word}${n === 1 ? "" : "s"}`;
  const all = `${count(o.steps_count, "step")}, ${o.recrossings} re-crossing${o.recrossings === 1 ? "" : "s"}, ${count(o.wires, "wire")} at most at one time, ${count(o.balloons, "balloon")}, ${count(o.stents, "stent")}`;
  return stop.steps < o.steps_count ? `${all}; ${count(stop.steps, "step")} if the angiogram says stop` : all;
}

function sizes(o) {
  return o.kit.filter((k) => k.diameter_mm !== null).map((k) => `${k.use.replaceAll("_", " ")} ${k.diameter_mm.toFixed(2)} mm`).join(", ");
}

function loss(l) {
  return h("li", {}, h("div", { class: "line" }, h("span", {}, visible(l.arm)), h("b", {}, rate(l.pct)), h("span", { class: "quiet" }, `against ${visible(l.against)}`)),
    h("p", { class: "whom" }, visible(l.design), ". This case belongs to it: ", mark(l.this_case_belongs, l.this_case_belongs)), whom(l));
}

function ffr(both, limb) {
  const said = (q) => (q ? `${q.value.toFixed(2)} (${q.low.toFixed(2)} to ${q.high.toFixed(2)})` : "cannot say");
  return h("li", {}, `FFR, ${limb}: `, h("b", {}, said(both.before)), " before, ", h("b", {}, said(both.after)), " after; computed, 90 %");
}

function row(r) {
  return h("li", {}, visible(r.text), h("span", { class: "whom" }, ` counted: ${visible(r.end_point || "not a count")}; in: ${visible(r.population || "not said")} `), standing(r.standing));
}

function fold(title, rows, form) {
  return rows && rows.length ? h("details", {}, h("summary", {}, `${title} (${rows.length})`), h("ul", { class: "rows" }, rows.map(form))) : null;
}

function option(o) {
  return h("li", { class: "option" }, h("div", { class: "line" }, h("b", {}, visible(o.name)), h("span", { class: "amount" }, "for this anatomy: ", mark(o.for_this_anatomy, o.for_this_anatomy))),
    h("ul", { class: "factors" }, o.conditions.map(condition)),
    h("p", {}, `${kit(o)}; guide ${o.guide_french === null ? "not known" : `${o.guide_french} F`}. `, o.axis_text ? `${visible(o.axis_text)}.` : ""),
    sizes(o) ? h("p", { class: "whom" }, `Sizes: ${sizes(o)}.`) : null,
    o.pathways ? h("ul", { class: "rows" }, o.pathways.map((p) => h("li", {}, h("b", {}, `Medina ${visible(p.medina)} `), mark(p.this_case, p.this_case === "yes" ? "this case" : p.this_case === "no" ? "not this case" : "not known"), ` ${visible(p.text)} `, standing(p.standing)))) : null,
    o.ffr ? h("ul", { class: "rows" }, ffr(o.ffr.distal, "distal main"), ffr(o.ffr.side, "side branch")) : null,
    fold("Side branch lost, source by source", o.loss, loss), fold("Published for it", o.for, row), fold("Published against it", o.against, row),
    !o.for.length && !o.against.length ? h("p", { class: "quiet" }, "No comparison of this strategy was read.") : null);
}

/** @param {any} answer @returns {any[]} */
export function strategiesCard(answer) {
  const first = answer.options.filter((o) => o.first_three), rest = answer.options.filter((o) => !o.first_three);
  return [
    h("p", { class: "said" }, answer.decided ? `Decided: ${visible(answer.decided).replaceAll("_", " ")}.` : `Nothing is decided; sizes and steps are shown for: ${visible(answer.followed_by_devices_and_steps).replaceAll("_", " ")}.`),
    h("ul", { class: "rows" }, first.map(option)),
    h("details", {}, h("summary", {}, `The other options (${rest.length})`), h("ul", { class: "rows" }, rest.map(option))),
    h("p", { class: "whom" }, "Order: ", visible(answer.order_rule), "."),
  ];
}
