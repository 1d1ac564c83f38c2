/* SPDX-License-Identifier: GPL-3.0-or-later */
// The card of the result: checks as one table, success by each definition; and the card of what is read aloud before the first wire.
import { mark, standing, words } from "./card_parts.js";
import { h, visible } from "./dom.js";
import { LIMBS, LIMB_NAMES } from "./words.js";

const VERDICTS = { met: ["yes", "met"], not_met: ["no", "not met"], cannot_say: ["unknown", "cannot say"] };

function found(c) {
  if (c.value === null || c.value === undefined) return "cannot say";
  return `${visible(c.value)}${c.unit ? ` ${c.unit === "mm2" ? "mm²" : c.unit === "deg" ? "°" : c.unit}` : ""}`;
}

function check(c) {
  return h("tr", {}, h("th", { scope: "row" }, visible(c.text), c.why ? h("div", { class: "whom" }, visible(c.why)) : null),
    h("td", {}, found(c)), h("td", {}, mark(c.met, c.met === "unknown" ? "cannot say" : undefined), typeof c.threshold_certainty_pct === "number" ? h("div", { class: "whom" }, `${c.threshold_certainty_pct > 99 ? "more than 99" : c.threshold_certainty_pct < 1 ? "less than 1" : c.threshold_certainty_pct} in 100`) : null),
    h("td", {}, h("div", { title: visible(c.line) }, `line: ${visible(c.threshold ?? "not chosen")}`), standing(c.standing)));
}

function success(s) {
  const [sign, said] = VERDICTS[s.verdict];
  return h("li", {}, h("div", { class: "line" }, h("b", {}, visible(s.name)), h("span", { class: "amount" }, mark(sign, said))),
    h("p", { class: "said" }, visible(s.why)), h("p", { class: "whom" }, visible(s.text), " ", standing(s.standing)));
}

function gain(a) {
  const rows = LIMBS.filter((l) => a.limbs[l].gain_mm);
  if (!rows.length) return null;
  return h("p", { class: "whom" }, "Gain in the same view: ", rows.map((l) => `${LIMB_NAMES[l]} ${a.limbs[l].gain_mm.value} mm${typeof a.limbs[l].gain_mm.sd === "number" ? ` ± ${a.limbs[l].gain_mm.sd}` : ""}`).join("; "), ".");
}

/** @param {any} a @returns {any[]} */
export function resultCard(a) {
  const open = a.checks.filter((c) => c.met === "unknown" && c.value === null), known = a.checks.filter((c) => !open.includes(c));
  return [
    known.length ? h("table", { class: "space sheet checks" }, h("caption", {}, "What was reached; certainty is about the measurement only"), h("tbody", {}, known.map(check))) : h("p", {}, "Nothing of the result is known yet."),
    gain(a),
    open.length ? h("details", {}, h("summary", {}, `Cannot say (${open.length})`), h("ul", { class: "rows" }, open.map((c) => h("li", {}, visible(c.text), ": ", visible(c.why))))) : null,
    h("h3", {}, "Procedural success, by definition"), h("ul", { class: "rows" }, a.procedural_success.map(success))];
}

/** @param {any} a @returns {any[]} */
export function pauseCard(a) {
  return [h("ul", { class: "rows pause" }, a.lines.map((l) => h("li", { "data-line": l.id }, h("span", { class: "quiet" }, `${words(l.id)}  `), visible(l.text)))),
    h("p", { class: "whom" }, `${a.words} words, about ${a.seconds} s read aloud. `, standing("memory"))];
}
