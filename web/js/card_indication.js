/* SPDX-License-Identifier: GPL-3.0-or-later */
// The card of the indication: what is recorded, measured physiology first, and what is still open.
import { standing } from "./card_parts.js";
import { h, visible } from "./dom.js";

// Only where a value stands against a published line is it said how that line is known.
const AGAINST_A_LINE = new Set(["measured_physiology", "computed_ffr"]);

function read(r) {
  const silent = r.value === "not recorded" || r.value === "cannot say" || r.value === "not known";
  return [h("dt", { title: visible(r.says) }, visible(r.text)),
    h("dd", { class: silent ? "quiet" : null }, visible(typeof r.value === "number" ? r.value.toFixed(2) : r.value), typeof r.drift === "number" ? `, drift ${r.drift.toFixed(2)}` : null, " ", !silent && AGAINST_A_LINE.has(r.id) ? standing(r.standing) : null)];
}

/** @param {any} answer @returns {any[]} */
export function indicationCard(answer) {
  return [
    h("h3", {}, "Open"),
    answer.open_questions.length ? h("ol", { class: "ladder" }, answer.open_questions.map((q) => h("li", {}, visible(q)))) : h("p", { class: "quiet" }, "nothing that this card asks about"),
    h("h3", {}, "As recorded"), h("dl", { class: "reads" }, answer.reads.map(read)),
  ];
}
