/* SPDX-License-Identifier: GPL-3.0-or-later */
// Making elements. Text becomes text, never markup: whatever a file or a person wrote is only shown.

const SVG = "http://www.w3.org/2000/svg";

function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  for (const child of children.flat(Infinity)) {
    if (child === null || child === undefined || child === false) continue;
    element.append(child instanceof Node ? child : document.createTextNode(String(child)));
  }
  return element;
}

/** @param {string} tag @param {Object} [attributes] @param {...any} children */
export function h(tag, attributes, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

/** The same for SVG. @param {string} tag @param {Object} [attributes] @param {...any} children */
export function s(tag, attributes, ...children) {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

/** @param {string} id @returns {any} */
export function byId(id) {
  return document.getElementById(id);
}

// Control characters would be invisible, or turn the line around: a sign stands for each.
export function visible(text) {
  return String(text).replace(/[\u0000-\u001f\u007f-\u009f\u200b-\u200f\u202a-\u202e\u2066-\u2069]/g, "\ufffd");
}
