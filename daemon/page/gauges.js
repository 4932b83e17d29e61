/* SPDX-License-Identifier: Apache-2.0 */
/* The instruments of the first screen: a graduated rule for the day's light, a band for the level, a thermometer.
 * Each is a picture with its reading as its name, for whoever does not see it. */
import {pct, s} from "./dom.js";
import {limiter, number, percent, unit} from "./words.js";

/* Hatchings, once for the document: a family is known by its pattern as well as by its colour. */
export function patterns() {
  const tile = (id, size, ...marks) =>
    s(
      "pattern",
      {id, width: size, height: size, patternUnits: "userSpaceOnUse"},
      s("rect", {width: size, height: size, class: `ground ${id}`}),
      ...marks,
    );
  const stroke = (d) => s("path", {d, class: "stroke"});
  return s(
    "svg",
    {class: "defs", "aria-hidden": "true", focusable: "false"},
    s(
      "defs",
      {},
      tile("plan", 8),
      tile("ramp", 8, stroke("M0 6.5H8")),
      tile(
        "night",
        8,
        s("circle", {cx: 2, cy: 2, r: 0.8, class: "dot"}),
        s("circle", {cx: 6, cy: 6, r: 0.8, class: "dot"}),
      ),
      tile("limit", 6, stroke("M1.5 0V6")),
      tile("heat", 8, stroke("M-2 2L2 -2M0 8L8 0M6 10L10 6")),
      tile("hand", 8, s("circle", {cx: 4, cy: 4, r: 1.6, class: "dot"})),
      tile("fault", 8, stroke("M0 0L8 8M8 0L0 8")),
      tile("lamp", 8),
      tile("daylight", 6, stroke("M0 1.5H6")),
      tile("tocome", 5, stroke("M-1 1L1 -1M0 5L5 0M4 6L6 4")),
    ),
  );
}

/* Marks every `step`, longer and named every `named`; none beside `keep`, where the target has its own. */
function graduations(top, most, step, named, keep) {
  const marks = [];
  for (let i = 0; i * step <= most + 1e-9; i++) {
    const value = i * step;
    const isNamed = i % named === 0;
    const x = pct(value / most);
    marks.push(s("line", {x1: x, x2: x, y1: top, y2: top + (isNamed ? 7 : 4), class: "tick"}));
    if (isNamed && Math.abs(value - keep) > most * 0.06 && value < most * 0.97) {
      marks.push(
        s(
          "text",
          {x, y: top + 18, class: "tag", "text-anchor": i === 0 ? "start" : "middle"},
          number(value, 0),
        ),
      );
    }
  }
  return marks;
}

function spacing(most) {
  if (most <= 3) return [0.5, 2];
  if (most <= 24) return [1, 5];
  return [5, 2];
}

export function molWords(space) {
  const even = Number.isFinite(space.even_pace_mol)
    ? `, at an even pace it would be ${number(space.even_pace_mol, 1)}`
    : "";
  return (
    `Daily light: ${number(space.delivered_mol, 1)} of ${unit(space.target_mol, 1, "mol")}${even}, ` +
    `expected ${number(space.forecast_mol, 1)}`
  );
}

/* The rule: light so far as a solid bar, what is expected behind it hatched; above it the even pace, at the end the
 * target. */
export function molRule(space) {
  const target = space.target_mol,
    got = space.delivered_mol || 0;
  const most = Math.max(target, got, space.forecast_mol || 0) * 1.04 || 1;
  const [step, named] = spacing(most);
  const byLamp = Math.min(got, space.lamp_mol ?? got);
  const forecast = Math.max(got, space.forecast_mol || 0);
  const even = space.even_pace_mol;
  const parts = [
    s("rect", {x: 0, y: 13, width: "100%", height: 15, class: "well"}),
    s("rect", {
      x: 0,
      y: 13,
      width: pct(forecast / most),
      height: 15,
      fill: "url(#tocome)",
      class: "expected",
    }),
    s("rect", {x: 0, y: 13, width: pct(byLamp / most), height: 15, fill: "url(#lamp)"}),
    s("rect", {
      x: pct(byLamp / most),
      y: 13,
      width: pct((got - byLamp) / most),
      height: 15,
      fill: "url(#daylight)",
    }),
    s("line", {x1: pct(got / most), x2: pct(got / most), y1: 11, y2: 30, class: "edge"}),
    ...graduations(28, most, step, named, target),
    s("line", {x1: pct(target / most), x2: pct(target / most), y1: 4, y2: 35, class: "target"}),
    s("text", {x: pct(target / most), y: 46, class: "tag strong", "text-anchor": "end"}, number(target, 1)),
  ];
  if (Number.isFinite(even)) {
    const mark = s(
      "svg",
      {x: pct(even / most), y: 2, class: "over"},
      s("path", {d: "M-6 0H6L0 10Z", class: "pace"}),
      s("line", {x1: 0, x2: 0, y1: 10, y2: 26, class: "pacing"}),
    );
    parts.push(mark);
  }
  return s("svg", {class: "gauge rule", role: "img", "aria-label": molWords(space)}, ...parts);
}

export function levelBand(space) {
  const {words, family} = limiter(space.limiter);
  const parts = [
    s("rect", {x: 0, y: 1, width: "100%", height: 15, class: "well"}),
    s("rect", {x: 0, y: 1, width: pct(space.level || 0), height: 15, fill: `url(#${family})`}),
    s("line", {x1: pct(space.level || 0), x2: pct(space.level || 0), y1: 0, y2: 18, class: "edge"}),
  ];
  for (let i = 0; i <= 10; i++) {
    parts.push(s("line", {x1: pct(i / 10), x2: pct(i / 10), y1: 16, y2: i % 5 ? 19 : 22, class: "tick"}));
  }
  if (!(space.level > 0))
    parts.push(s("rect", {x: 0, y: 1, width: "100%", height: 15, fill: `url(#${family})`, class: "idle"}));
  return s(
    "svg",
    {class: "gauge band", role: "img", "aria-label": `Level ${percent(space.level)}, ${words}`},
    ...parts,
  );
}

/* The hottest heatsink on a scale of 0 to 80 °C or more, from where it backs off hatched, and the trip. */
export function thermometer(heat) {
  const most = Math.max(80, (heat.trip_c || 0) + 5);
  const parts = [s("rect", {x: 0, y: 1, width: "100%", height: 15, class: "well"})];
  if (Number.isFinite(heat.from_c)) {
    parts.push(
      s("rect", {
        x: pct(heat.from_c / most),
        y: 1,
        width: pct(1 - heat.from_c / most),
        height: 15,
        fill: "url(#heat)",
        class: "beyond",
      }),
    );
  }
  if (Number.isFinite(heat.c)) {
    parts.push(
      s("rect", {x: 0, y: 5, width: pct(heat.c / most), height: 7, class: "mercury"}),
      s("line", {x1: pct(heat.c / most), x2: pct(heat.c / most), y1: 0, y2: 18, class: "edge"}),
    );
  }
  for (let c = 0; c <= most; c += 10) {
    parts.push(
      s("line", {x1: pct(c / most), x2: pct(c / most), y1: 16, y2: c % 20 ? 19 : 22, class: "tick"}),
    );
  }
  const limit = Number.isFinite(heat.from_c) ? `, backs off from ${unit(heat.from_c, 0, "°C")}` : "";
  return s(
    "svg",
    {class: "gauge heat", role: "img", "aria-label": `Hottest heatsink ${unit(heat.c, 1, "°C")}${limit}`},
    ...parts,
  );
}
