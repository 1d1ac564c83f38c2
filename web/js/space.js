/* SPDX-License-Identifier: GPL-3.0-or-later */
// The card about space: what several views say together, and where to stand next. All numbers come from the server.
import { Refused, post } from "./api.js";
import { byId, h, visible } from "./dom.js";
import { LIMBS, LIMB_NAMES } from "./words.js";

const opened = new Set(["Drawing"]); // pictures that are unfolded: they stay so when the card is filled anew

let asking = null, pictures = [];

const ROWS = [["length_mm", "length", "mm"], ["mld_mm", "smallest lumen", "mm"], ["reference_mm", "reference", "mm"],
  ["stenosis_pct", "stenosis", "%"], ["area_stenosis_pct", "area stenosis", "%"], ["lesion_length_mm", "lesion length", "mm"]];
const ANGLES = [["distal_side_deg", "distal to side"], ["proximal_side_deg", "proximal to side"], ["proximal_distal_deg", "proximal to distal"]];

function amount(q, digits) {
  return q ? `${q.value.toFixed(digits)} ± ${q.sd.toFixed(digits)}` : "cannot say";
}

function table(solid) {
  return h("table", { class: "space" },
    h("thead", {}, h("tr", {}, h("th", {}, ""), LIMBS.map((limb) => h("th", { scope: "col", class: limb }, LIMB_NAMES[limb])))),
    h("tbody", {}, ROWS.map(([key, name, unit]) => h("tr", {}, h("th", { scope: "row" }, `${name}, ${unit}`),
      LIMBS.map((limb) => h("td", {}, amount(solid.segments[limb][key], unit === "%" ? 1 : key === "length_mm" || key === "lesion_length_mm" ? 1 : 2))))),
      Object.keys(solid.foreshortening_pct).map((view) => h("tr", {}, h("th", { scope: "row" }, `shortened in ${view.replace("view", "view ")}, %`),
        LIMBS.map((limb) => h("td", {}, solid.foreshortening_pct[view][limb].toFixed(0)))))));
}

function said(answer) {
  const solid = answer.solid, views = answer.views;
  const angles = solid ? h("p", {}, ANGLES.map(([key, name], i) => `${i ? " · " : "Angles: "}${name} ${amount(solid.angles[key], 0)}°`)) : null;
  const best = views.best.filter((b) => b.rank === 1);
  return [
    (solid ? solid.warnings : []).map((w) => h("p", { class: "note" }, visible(w.message))),
    solid ? table(solid) : h("p", { class: "held" }, "One view: lengths are lower bounds and angles are as projected. Measure a second film of this case, 30° or more away."),
    angles,
    best.length ? h("p", {}, "Best in reach: ", best.map((b, i) => `${i ? "; " : ""}${b.purpose.replaceAll("_", " ")} ${visible(b.words)}`)) : null,
    (views.cautions || []).map((c) => h("p", { class: "quiet" }, visible(c))),
  ];
}

function drawing(svg, title) {
  if (!svg) return null;
  const picture = URL.createObjectURL(new Blob([svg], { type: "image/svg+xml" }));
  pictures.push(picture);
  return h("details", { open: opened.has(title), ontoggle: (e) => (e.target.open ? opened.add(title) : opened.delete(title)) }, h("summary", {}, title),
    h("a", { href: picture, target: "_blank", rel: "noopener" }, h("img", { class: "paper", src: picture, alt: `${title}, opens on its own: the numbers are in the text above` })));
}

/** @param {any} document_ a case, or null @param {(solid: any) => void} keepIt */
export async function askSpace(document_, keepIt) {
  if (asking) asking.abort();
  const own = asking = new AbortController(), body = byId("space-body");
  if (!document_ || !(document_.measurements || []).length) { body.className = "body quiet"; body.replaceChildren("needs a measurement"); return; }
  try {
    const answer = await post("/api/space", document_, own.signal);
    body.className = "body";
    const kept = JSON.stringify(document_.solid || null) === JSON.stringify(answer.solid);
    for (const old of pictures.splice(0)) URL.revokeObjectURL(old);
    body.replaceChildren(...[said(answer), drawing(answer.drawing, "Drawing"), drawing(answer.svg, "Map of C-arm positions"),
      answer.solid ? h("button", { type: "button", id: "keep-space", disabled: kept, onclick: () => keepIt(answer.solid) }, kept ? "Kept in the case" : "Keep in the case") : null].flat(Infinity).filter(Boolean));
  } catch (error) {
    if (error.name === "AbortError") return;
    body.className = "body held";
    body.replaceChildren(error instanceof Refused ? visible(error.message) : "the server did not answer");
  }
}
