/* SPDX-License-Identifier: GPL-3.0-or-later */
// The card of injury: every definition with its verdict and clause, the branch beside the rise, kidney, bleeding, and the follow-up sheet.
import { questions } from "./card_budget.js";
import { mark, standing, words } from "./card_parts.js";
import { h, visible } from "./dom.js";

const VERDICTS = { mi: "infarction", type_4a: "infarction, type 4a", none: "no injury", not_met: "not met", depends: "depends", not_classifiable: "not classifiable" };
const verdict = (v) => VERDICTS[v] || words(v);

function definition(d) {
  return h("li", {}, h("div", { class: "line" }, h("b", {}, visible(d.name)), h("span", { class: "amount" }, h("b", {}, verdict(d.verdict)))),
    h("p", { class: "said" }, visible(d.why)),
    typeof d.side_at_least_2mm_certainty_pct === "number" ? h("p", { class: "whom" }, `That the branch is really at least 2.0 mm: ${d.side_at_least_2mm_certainty_pct} in 100, about the measurement only.`) : null,
    d.notes.map((n) => h("p", { class: "whom" }, visible(n))), d.standing ? standing(d.standing) : null);
}

function territory(t) {
  return [h("h3", {}, "The branch beside the rise"), h("p", { class: "said" }, visible(t.text), ` Sampling: ${visible(t.time_course)}.`),
    h("p", {}, "Out of proportion to what is known: ", mark(t.out_of_proportion, t.out_of_proportion === "unknown" ? "cannot say" : t.out_of_proportion), " ", standing(t.standing)),
    t.flags.length ? h("ul", { class: "rows" }, t.flags.map((f) => h("li", {}, visible(f)))) : null,
    h("details", { open: t.out_of_proportion === "yes" }, h("summary", {}, "What else to look at"), h("ul", { class: "rows" }, t.look_at.map((l) => h("li", {}, h("b", {}, visible(l.what)), `: ${visible(l.here)}`)))),
    h("details", {}, h("summary", {}, "What was published"), h("ul", { class: "rows" }, t.associations.map((a) => h("li", {}, visible(a.text), " ", standing(a.standing))))),
    h("p", { class: "whom" }, visible(t.no_conversion))];
}

function kidney(k) {
  if (!k) return h("p", {}, "Kidney injury: cannot say, no creatinine after.");
  return h("p", {}, `Kidney: ${visible(k.kdigo.text)}; older definition: `, mark(k.older.met, k.older.met === "unknown" ? "cannot say" : k.older.met === "yes" ? "met" : "not met"),
    typeof k.rise === "number" ? ` (${k.before} to ${k.after} ${k.unit}, ${k.ratio} times${typeof k.hours === "number" ? `, at ${k.hours} h` : ""})` : "", k.kdigo.note ? `; ${visible(k.kdigo.note)}` : "");
}

function sheet(rows) {
  return h("table", { class: "space sheet" }, h("caption", {}, "Follow-up sheet"), h("tbody", {}, rows.map((r) => h("tr", {}, h("th", { scope: "row" }, visible(r.when)),
    h("td", {}, h("div", {}, visible(r.what)), h("div", { class: "whom" }, r.why ? `${visible(r.why)} ` : "", standing(r.standing)))))));
}

/** @param {any} a @returns {any[]} */
export function injuryCard(a) {
  return [questions(a.questions), h("ul", { class: "rows" }, a.definitions.map(definition)), territory(a.territory_note),
    h("h3", {}, "Kidney, bleeding, stent thrombosis"), kidney(a.kidney_injury),
    h("p", {}, `Bleeding: ${a.bleeding.barc ? `BARC ${visible(a.bleeding.barc)}` : "cannot say"}, ${visible(a.bleeding.why)}.`),
    h("p", {}, `Stent thrombosis: ${a.stent_thrombosis.class ? [a.stent_thrombosis.class, a.stent_thrombosis.timing].filter(Boolean).map(visible).join(", ") : "cannot say"}; ${visible(a.stent_thrombosis.why)}.`),
    sheet(a.follow_up)];
}
