/* SPDX-License-Identifier: Apache-2.0 */
/* Each night from noon to noon: when it was, whether it stayed dark, and who saw that. */
import {h, pct, s, table} from "./dom.js";
import {civil, clock, duration, number, shortDate, thin} from "./words.js";

const DAY_MS = 86400000;
const SHOWN = 7;
const WORDS = {
  dark: "dark",
  broken: "▼ broken",
  possible: "? perhaps lit",
  unrecorded: "– not recorded",
  unseen: "– not seen by a sensor",
  unlit: "lamps off, sky not told apart",
};

const time = (text) => (text ? clock(civil(text)) : "now");

function bar(night) {
  const begin = civil(night.begin);
  const noon = Math.floor((begin - DAY_MS / 2) / DAY_MS) * DAY_MS + DAY_MS / 2;
  const place = (ms) => (ms - noon) / DAY_MS;
  const box = (from, to, fill) =>
    s("rect", {
      x: pct(place(from)),
      width: pct(place(to) - place(from)),
      y: 3,
      height: 14,
      fill,
      class: "run",
    });
  const end = civil(night.end);
  const marks = (night.breaks || []).map((one) =>
    s(
      "svg",
      {x: pct(place(civil(one.begin))), y: 0, class: "over"},
      s("path", {d: "M-5 0H5L0 9Z", class: "pace"}),
      s("line", {x1: 0, x2: 0, y1: 8, y2: 20, class: "pacing"}),
    ),
  );
  const hours = [0.25, 0.5, 0.75].map((at) =>
    s("line", {x1: pct(at), x2: pct(at), y1: 17, y2: 20, class: "tick"}),
  );
  return s(
    "svg",
    {class: "gauge piece", "aria-hidden": "true"},
    s("rect", {x: 0, width: "100%", y: 3, height: 14, class: "well"}),
    box(begin, end, night.night === "dark" || night.night === "unlit" ? "url(#night)" : "url(#fault)"),
    ...hours,
    ...marks,
  );
}

function rows(list) {
  return list.map((night) => [shortDate(night.light_day), bar(night), WORDS[night.night] || night.night]);
}

function sheet(title, list) {
  return table(title, ["from", "noon to noon, a mark every 6 hours", "it was"], rows(list), ["", "wide", ""]);
}

function more(list) {
  return h(
    "details",
    {},
    h("summary", {}, "All of them in figures"),
    table(
      "Nights in figures",
      ["day", "from", "to", "length", "longest light", "dose, µmol m⁻²", "breaks"],
      list.map((night) => [
        shortDate(night.light_day),
        time(night.begin),
        time(night.end),
        duration(night.length_s),
        night.longest_light_s > 0
          ? duration(night.longest_light_s)
          : night.longest_light_s === 0
            ? "none"
            : "not known",
        number(night.dose_umol_m2 ?? NaN, 1),
        String((night.breaks || []).length + (night.breaks_left_out || 0)),
      ]),
      ["", "", "", "figure", "figure", "figure", "figure"],
    ),
  );
}

export function nights(answer) {
  const list = [...(answer.nights || [])].reverse();
  if (!list.length) return [h("p", {}, "No night is noted yet.")];
  const whole = list.filter((night) => night.begin_seen !== false && night.end_seen !== false);
  const dark = whole.filter((night) => night.night === "dark").length;
  const told = list
    .slice(0, SHOWN)
    .filter((night) => night.night !== "dark")
    .map((night) =>
      h(
        "li",
        {},
        h("b", {}, shortDate(night.light_day) + ": "),
        thin(night.text),
        (night.breaks || []).map((one) => " " + thin(one.text)),
      ),
    );
  return [
    h(
      "p",
      {},
      whole.length
        ? `Seen dark from end to end: ${dark} of ${whole.length} whole ${whole.length === 1 ? "night" : "nights"}.`
        : "No whole night is noted yet.",
    ),
    sheet("The last nights", list.slice(0, SHOWN)),
    told.length ? h("ul", {class: "told"}, told) : null,
    more(list),
  ].filter(Boolean);
}
