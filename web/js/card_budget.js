/* SPDX-License-Identifier: GPL-3.0-or-later */
// The card of budgets: kidney, contrast limits side by side, radiation, heparin and ACT, bleeding, durations. Words and bars; nothing hangs on colour.
import { mark, standing, words } from "./card_parts.js";
import { h, s, visible } from "./dom.js";

const number = (v, unit, digits = 0) => (typeof v === "number" ? `${v.toFixed(digits)} ${unit}` : "cannot say");

/** Questions about values that look like another unit. @param {string[]} list */
export function questions(list) {
  return list.map((q) => h("p", { class: "held" }, "Is this meant? ", visible(q)));
}

function kidney(a) {
  return h("p", { class: "said" }, `eGFR: ${number(a.egfr && a.egfr.value, "mL/min/1.73 m²")}${a.egfr ? ` (${a.egfr.stage})` : ""}; clearance: ${number(a.crcl && a.crcl.value, "mL/min")} `,
    h("span", { class: "whom" }, [a.egfr && a.egfr.formula, a.crcl && a.crcl.formula].filter(Boolean).join("; ")));
}

// The limit as a frame on a common scale, what was used as its filling.
function bar(limit, used, most) {
  const x = (ml) => Math.min(1, ml / most) * 150;
  return s("svg", { viewBox: "0 0 152 12", width: 152, height: 12, "aria-hidden": "true" },
    s("rect", { class: "budget-limit", x: 1, y: 1, width: x(limit), height: 10 }),
    typeof used === "number" ? s("rect", { class: "budget-used", x: 1, y: 4, width: x(used), height: 4 }) : null);
}

function left(l) {
  if (l.passed === "unknown") return "use not known";
  return l.remaining_ml < 0 ? `passed by ${Math.abs(l.remaining_ml).toFixed(0)} mL` : `${l.remaining_ml.toFixed(0)} mL left (${l.used_pct} % used)${l.passed === "yes" ? ", reached" : ""}`;
}

function limitRow(l, used, most) {
  const known = typeof l.limit_ml === "number";
  return h("li", {}, h("div", { class: "line" }, h("b", {}, visible(l.name)), l.strictest ? "strictest" : null, h("span", { class: "amount" }, known ? `${l.limit_ml.toFixed(0)} mL${l.capped ? ", capped" : ""}` : "cannot say")),
    known ? h("div", { class: "certainty" }, bar(l.limit_ml, used, most), left(l)) : null,
    h("p", { class: "whom" }, standing(l.standing), l.in_the_range_it_was_derived_at === "no" ? " derived at creatinine of 1.8 mg/dL and above, used below that here" : null));
}

function contrast(c) {
  const most = Math.max(1, ...c.limits.map((l) => l.limit_ml || 0), c.used_ml || 0);
  return [h("h3", {}, "Contrast: budgets, not predictions"),
    c.hold ? h("p", { class: "held" }, "held back: ", visible(c.hold)) : null,
    h("ul", { class: "rows" }, c.limits.map((l) => limitRow(l, c.used_ml, most))),
    h("p", {}, `Used: ${typeof c.used_ml === "number" ? `${c.used_ml.toFixed(0)} mL` : "not known"}${c.used_from ? ` (${words(c.used_from)})` : ""}. `, c.iodine ? `Iodine ${c.iodine.used_g} g${typeof c.iodine.per_egfr === "number" ? `, ${c.iodine.per_egfr.toFixed(2)} g per mL/min/1.73 m² (line ${c.iodine.per_egfr_line})` : ""}. ` : "",
      c.multiple_of_5kg_per_scr ? `${c.multiple_of_5kg_per_scr.value} times 5 kg/Scr: ${visible(c.multiple_of_5kg_per_scr.text)}` : ""),
    h("p", { class: "whom" }, visible(c.text), " Nothing here blocks. ", c.note ? visible(c.note) : "")];
}

function radiation(r) {
  return [h("h3", {}, "Radiation"),
    r.next.length ? h("table", { class: "space" }, h("thead", {}, h("tr", {}, ["", "now", "next notice", "follow-up from"].map((t) => h("th", { scope: "col" }, t)))),
      h("tbody", {}, r.next.map((n) => h("tr", {}, h("th", { scope: "row" }, visible(n.metric)), h("td", {}, `${n.now} ${visible(n.unit)}`), h("td", {}, n.next_notice), h("td", {}, n.follow_up_from))))) : h("p", { class: "quiet" }, "no dose is known"),
    h("ul", { class: "rows" }, r.notices.map((n) => h("li", {}, visible(n.text), " ", standing(n.standing)))),
    h("p", {}, "Follow-up of the skin: ", mark(r.follow_up, r.follow_up === "unknown" ? "cannot say" : r.follow_up), typeof r.mean_field_cm2 === "number" ? ` Mean field ${r.mean_field_cm2} cm².` : ""),
    r.skin_reaction ? h("p", {}, `Skin dose ${r.skin_dose_gy} Gy (${visible(r.skin_dose_how)}): ${visible(r.skin_reaction)}`) : null,
    r.actions.length ? h("ul", { class: "rows" }, r.actions.map((a) => h("li", {}, visible(a.text), " ", standing(a.standing)))) : null];
}

const units = (range) => (range ? `${range.low === range.high ? range.low : `${range.low} to ${range.high}`} ${range.unit}` : "cannot say");

function heparin(x) {
  const act = x.act, due = act.next_due_in_min;
  return [h("h3", {}, "Heparin and ACT"),
    x.hold ? h("p", { class: "held" }, "held back: ", visible(x.hold)) : h("p", {}, x.bolus_u ? h("b", {}, units(x.bolus_u)) : `${units(x.without_gp_inhibitor_u)} without, ${units(x.with_gp_inhibitor_u)} with GP IIb/IIIa inhibitor`,
      ` for ${x.weight_kg} kg, clearance ${number(x.crcl_ml_min, "mL/min")}; `, h("b", {}, visible(x.label)), "."),
    h("p", {}, `ACT range: ${units(act.range_s)}; ${typeof act.last_s === "number" ? `last ${act.last_s} s: ${words(act.class).replace("unknown", "cannot say")}` : "no ACT is known"}. `,
      typeof due === "number" ? `Next due ${due < 0 ? `${-due} min ago` : `in ${due} min`} (every ${act.interval_min} min, ${visible(act.interval_from)}).` : "When the next one is due cannot be said.")];
}

function drugs(d) {
  return h("details", {}, h("summary", {}, "Other drugs, by generic name; check local label"),
    h("ul", { class: "rows" }, d.doses.map((x) => h("li", {}, h("div", { class: "line" }, h("b", {}, visible(x.drug)), visible(x.part), h("span", { class: "amount" }, x.hold ? "held back" : `${x.amount} ${x.unit}`)),
      h("p", { class: "whom" }, x.hold ? `${visible(x.hold)}. ` : "", visible(x.text), " ", standing(x.standing))))),
    h("ul", { class: "rows" }, d.not_computed.map((x) => h("li", {}, `${visible(x.name)}: ${visible(x.text)} `, standing(x.standing)))));
}

function points(score, line) {
  const open = score.items.filter((i) => i.present === "unknown").length;
  return h("div", {}, h("p", { class: "said" }, `${visible(score.name)}: `, h("b", {}, typeof score.points === "number" ? `${score.points} points` : `cannot say, ${open} items not known`), line, " ", standing(score.standing)),
    score.why_not ? h("p", { class: "whom" }, `Not for this case: ${visible(score.why_not)}`) : null,
    h("details", {}, h("summary", {}, "Items"), h("ul", { class: "factors" }, score.items.map((i) => h("li", { class: "ruled" }, mark(i.present, i.present), h("div", {}, visible(i.text), typeof i.points === "number" ? ` ${i.points}` : ""))))));
}

function criteria(list) {
  return h("ul", { class: "factors" }, list.map((c) => h("li", { class: "ruled" }, mark(c.met), h("div", {}, visible(c.text)))));
}

function bleeding(b) {
  const hbr = b.arc_hbr, met = hbr.criteria.filter((c) => c.met === "yes"), open = hbr.criteria.filter((c) => c.met === "unknown");
  return [h("h3", {}, "Bleeding"),
    h("p", {}, "High bleeding risk (ARC): ", mark(hbr.high, hbr.high === "unknown" ? "cannot say" : hbr.high), ` ${hbr.major} major, ${hbr.minor} minor criteria met, ${open.length} not known. `, standing(hbr.standing)),
    met.length ? criteria(met) : null,
    h("details", {}, h("summary", {}, `The other criteria (${hbr.criteria.length - met.length})`), criteria(hbr.criteria.filter((c) => c.met !== "yes"))),
    points(b.precise_dapt, `; published line ${b.precise_dapt.published_line}`)];
}

function antiplatelet(a) {
  return [h("h3", {}, `Two antiplatelet drugs, as published${a.presentation ? ` (${words(a.presentation)})` : ""}`),
    a.durations.length ? h("ul", { class: "rows" }, a.durations.map((d) => h("li", {}, h("b", {}, visible(d.name)), `: ${visible(d.text)} `, standing(d.standing)))) : h("p", { class: "quiet" }, "the presentation was not said"),
    h("details", {}, h("summary", {}, "Month 12, loading, complex PCI"), points(a.dapt_score, `; published line ${a.dapt_score.published_line}`), h("p", {}, visible(a.loading)), h("p", {}, visible(a.complex_pci)))];
}

/** @param {any} a @returns {any[]} */
export function budgetCard(a) {
  return [questions(a.questions), kidney(a), contrast(a.contrast), radiation(a.radiation), heparin(a.heparin), drugs(a.drugs), bleeding(a.bleeding), antiplatelet(a.antiplatelet),
    h("details", {}, h("summary", {}, "Points for kidney injury, not verified"), a.kidney_scores.scores.map((x) => points(x, typeof x.group === "number" ? `, group ${x.group} of 4` : "")),
      h("ul", { class: "rows" }, a.kidney_scores.not_computed.map((x) => h("li", {}, visible(x.text), " ", standing(x.standing)))))];
}
