// Lengths and places in the units that are switched on, and small helpers for the page.
"use strict";

const state = { look: 0, turn: 0, tilt: 14, units: "mm", lit: null, sheet: 0, order: "", line: "", vinyl: "" };
const byId = (id) => document.getElementById(id);

function inches(mm) {
  const parts = Math.round(Math.abs(mm) / 25.4 * 16);
  let over = parts % 16, under = 16;
  while (over && over % 2 === 0) { over /= 2; under /= 2; }
  const whole = Math.floor(parts / 16);
  const text = [whole || !over ? whole : "", over ? `${over}/${under}` : ""].filter((part) => part !== "").join(" ");
  return `${mm < 0 && parts ? "-" : ""}${text} in`;
}

function length(mm) {
  return state.units === "in" ? inches(mm) : `${(Math.abs(mm) < 0.05 ? 0 : mm).toFixed(1)} mm`;
}

const turned = (degrees) => ((degrees % 360) + 360) % 360;
const place = ([degrees, down]) => `${turned(degrees).toFixed(1)}°, ${length(down)} down`;

function element(name, text, classes) {
  const made = document.createElement(name);
  if (text !== undefined) made.textContent = text;
  if (classes) made.className = classes;
  return made;
}

function options(select, entries) {
  select.replaceChildren(...entries.map(([value, text]) => {
    const option = element("option", text);
    option.value = value;
    return option;
  }));
}

function shape(path, fill) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", "path");
  made.setAttribute("d", path);
  made.setAttribute("fill", fill);
  made.setAttribute("fill-rule", "evenodd");
  return made;
}
