/* SPDX-License-Identifier: GPL-3.0-or-later */
// What the cards about the side branch share: marks, certainty, standing. Everything shown was computed by the server.
import { h, s, visible } from "./dom.js";

/** An id of the contract in words. @param {string} id */
export function words(id) {
  return visible(id).replaceAll("_", " ");
}

const MARKS = { yes: ["met", "M3 9 7 13 14 4"], no: ["not met", "M4 4 13 13M13 4 4 13"], unknown: ["not known", "M5 6a3.5 3.5 0 1 1 5 3.2c-1.3.7-1.5 1.3-1.5 2.3M8.5 15v.1"] };

/** yes, no, unknown: a sign and a word, so that nothing hangs on colour. @param {string} answer @param {string} [said] */
export function mark(answer, said) {
  const [word, path] = MARKS[answer] || MARKS.unknown;
  return h("span", { class: `mark ${answer}` },
    s("svg", { viewBox: "0 0 17 17", width: 15, height: 15, "aria-hidden": "true" }, s("path", { d: path, class: "stroke" })), said || word);
}

/** How a number is known. @param {string} standing */
export function standing(standing) {
  const known = standing === "seen" ? "read in the source" : standing === "memory" ? "from memory, not verified" : "common practice, no source";
  return h("span", { class: standing === "seen" ? "standing-tag" : "standing-tag weak" }, known);
}

/** Ten cells, as many filled as draws out of ten reached the line. @param {number|null} pct @param {string|null} text */
export function certainty(pct, text) {
  if (pct === null || pct === undefined) return null;
  const cells = [...Array(10).keys()].map((i) => s("rect", { x: i * 9, y: 1, width: 7, height: 9, class: pct >= (i + 0.5) * 10 ? "cell full" : "cell" }));
  return h("div", { class: "certainty" }, s("svg", { viewBox: "0 0 90 11", width: 90, height: 11, "aria-hidden": "true" }, cells), h("span", {}, visible(text)));
}

/** A rate with its interval, where one was published or can be worked out. @param {any} rate */
export function rate(rate) {
  const interval = typeof rate.low === "number" ? ` (${rate.low} to ${rate.high}, ${rate.level_pct} %)` : "";
  return `${rate.value} %${interval}`;
}

/** value and unit; at least, where only the lower end is known. @param {any} item */
export function amount(item) {
  if (item.value === null || item.value === undefined) return "";
  return `${item.at_least ? "≥ " : ""}${item.value}${item.unit ? ` ${item.unit === "deg" ? "°" : item.unit}` : ""}`;
}

/** End point and population stand beside every number. @param {any} item */
export function whom(item) {
  return h("p", { class: "whom" }, "counted: ", visible(item.end_point), ". In: ", visible(item.population), ". ", standing(item.standing));
}
