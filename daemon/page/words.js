/* SPDX-License-Identifier: Apache-2.0 */
/* Numbers, times and names as they are written on the page. Times are those of the daemon's answer, with its own
 * offset: a grower far away reads the clock of the plants, not of the telephone. */

const THIN = "\u202f"; /* narrow and never broken: between a number and its unit */

export function number(value, digits) {
  if (!Number.isFinite(value)) return "–";
  const text = value.toFixed(digits);
  return Number(text) === 0 ? text.replace("-", "") : text.replace("-", "−");
}

export function unit(value, digits, name) {
  return Number.isFinite(value) ? number(value, digits) + THIN + name : "not known";
}

export function percent(ratio) {
  return unit(ratio * 100, 0, "%");
}

export const UMOL = "µmol" + THIN + "m⁻²" + THIN + "s⁻¹";
export const MOL = "mol" + THIN + "m⁻²";

/* The daemon's sentences have plain spaces before units. */
export function thin(sentence) {
  return sentence.replace(/(\d) (%|°C|mol\b|µmol\b|W\b|kWh\b|K\b)/g, "$1" + THIN + "$2");
}

/* Names of the configuration; a stage "short_days" is read as two words. */
export function name(text) {
  return text.replaceAll("_", " ");
}

/* "2026-11-25T19:02:32+01:00" → the clock on the wall there, as milliseconds that pretend to be UTC. */
export function civil(text) {
  return Date.parse(text.slice(0, 19) + "Z");
}

export function offset(text) {
  const zone = text.slice(19);
  return /^[+-]\d\d:\d\d$/.test(zone) ? "UTC" + zone.replace("-", "−") : "UTC";
}

/* 3600 → "+01:00" */
export function offsetText(seconds) {
  const minutes = Math.abs(seconds) / 60;
  const two = (value) => String(Math.floor(value)).padStart(2, "0");
  return (seconds < 0 ? "-" : "+") + two(minutes / 60) + ":" + two(minutes % 60);
}

export function clock(ms, withSeconds) {
  return new Date(ms).toISOString().slice(11, withSeconds ? 19 : 16);
}

export function isoDay(ms) {
  return new Date(ms).toISOString().slice(0, 10);
}

const WEEKDAYS = ["Sunday", "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday"];
const MONTHS = [
  "January",
  "February",
  "March",
  "April",
  "May",
  "June",
  "July",
  "August",
  "September",
  "October",
  "November",
  "December",
];

export function longDate(day) {
  const date = new Date(day + "T00:00:00Z");
  return `${WEEKDAYS[date.getUTCDay()]}, ${date.getUTCDate()} ${MONTHS[date.getUTCMonth()]} ${date.getUTCFullYear()}`;
}

export function shortDate(day) {
  const date = new Date(day + "T00:00:00Z");
  return `${WEEKDAYS[date.getUTCDay()].slice(0, 3)} ${date.getUTCDate()} ${MONTHS[date.getUTCMonth()].slice(0, 3)}`;
}

export function duration(seconds) {
  const s = Math.max(0, Math.round(seconds));
  if (s < 100) return unit(s, 0, "s");
  const minutes = Math.round(s / 60);
  if (minutes < 60) return unit(minutes, 0, "min");
  if (minutes >= 48 * 60) return unit(Math.round(minutes / 1440), 0, "days");
  return `${unit(Math.floor(minutes / 60), 0, "h")} ${unit(minutes % 60, 0, "min")}`;
}

/* What holds a level: what it is called in words, the letter that the day's report prints for it, and its family,
 * which has a colour and a hatching of its own. */
const LIMITERS = {
  "not-running": ["lamp control not running", "x", "fault"],
  night: ["night", "·", "night"],
  "clock-untrusted": ["time of day not known", "c", "fault"],
  "output-fault": ["an output that did not obey", "o", "fault"],
  "heat-trip": ["heat trip", "T", "heat"],
  "driver-trip": ["LED driver trip", "V", "heat"],
  rest: ["minimum off time of the switch", "r", "limit"],
  heat: ["heat foldback", "h", "heat"],
  "drive-ceiling": ["drive ceiling of the LED driver", "d", "limit"],
  "power-limit": ["power limit of all spaces", "w", "limit"],
  "light-ceiling": ["PPFD ceiling of the stage", "l", "limit"],
  "sensor-lost": ["no light reading", "s", "fault"],
  "by-hand": ["by hand", "b", "hand"],
  dawn: ["dawn", "/", "ramp"],
  dusk: ["dusk", "\\", "ramp"],
  "full-light": ["lamps at full light", "f", "plan"],
  "target-met": ["target met", "=", "plan"],
  plan: ["plan", "p", "plan"],
};

export function limiter(key) {
  const [words, letter, family] = LIMITERS[key] || [String(key), "?", "fault"];
  return {words, letter, family};
}

/* What a loss is called: what plan and target met could not make up was not foreseen. */
export function loss(key) {
  return key === "plan" || key === "target-met" ? "what the plan did not foresee" : limiter(key).words;
}
