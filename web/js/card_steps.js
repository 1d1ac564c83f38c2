/* SPDX-License-Identifier: GPL-3.0-or-later */
// The card of steps: one row a step, beside it a lane that is filled while something lies in the side branch.
import { words } from "./card_parts.js";
import { h, visible } from "./dom.js";

function step(x) {
  const kind = x.exposed ? "exposed" : x.side_branch === "nothing" ? "bare" : x.side_branch === "jailed wire" ? "jailed" : "wired";
  return h("li", { class: `step lane-${kind}` }, h("span", { class: "number" }, x.n), h("div", {},
    h("div", { class: "line" }, h("b", {}, visible(x.do)), x.only_if ? h("span", { class: "quiet" }, `only if ${visible(x.only_if)}`) : null),
    h("p", {}, visible(x.with)),
    h("p", { class: x.exposed ? "held" : "whom" }, x.exposed ? visible(x.exposes) : `in the side branch: ${visible(x.side_branch)}`),
    h("p", { class: "whom" }, "look: ", visible(x.check)),
    h("details", {}, h("summary", {}, "view, and if it fails"), h("p", {}, "view: ", visible(x.view)), h("p", {}, "if not: ", visible(x.if_not)))));
}

// Does it go through the guide? A word, since it decides what is reached for next.
function guide(r) {
  if (!r.guide_verdict) return null;
  return h("span", { class: r.guide_verdict === "no" ? "held" : "quiet" }, ` · ${r.guide_french} F guide: ${visible(r.guide_verdict)} (${r.guide_needed_mm.toFixed(2)} mm); ${r.guide_french + 1} F: ${visible(r.guide_verdict_7f)}`);
}

/** @param {any} answer @returns {any[]} */
export function stepsCard(answer) {
  return [
    h("p", { class: "said" }, answer.steps.length ? `As written for: ${words(answer.strategy)}.` : `${words(answer.strategy)}: the order of steps cannot be said.`),
    answer.steps.length ? h("ol", { class: "steps" }, answer.steps.map(step)) : null,
    answer.bail_out.map((b) => h("details", { open: true }, h("summary", {}, visible(b.trigger)),
      h("ol", { class: "ladder", start: b.ladder.length ? b.ladder[0].n : 0 }, b.ladder.map((r) => h("li", { value: r.n }, visible(r.do), h("span", { class: "quiet" }, ` · ${visible(r.with)}`), guide(r)))))),
  ];
}
