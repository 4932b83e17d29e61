/* SPDX-License-Identifier: Apache-2.0 */
/* What the journal holds of a space besides curves: the mol account, hours, lamps, past days, nights, events. */
import {h, pct, s, table} from "./dom.js";
import {
  civil,
  clock,
  duration,
  limiter,
  longDate,
  loss,
  name,
  number,
  percent,
  shortDate,
  thin,
  unit,
  MOL,
  UMOL,
} from "./words.js";

const LEAST_MOL = 0.005;
const FOLD_FROM = 6; /* events of the same kind */

/* Target + surplus = lamps + daylight + what may come + all losses: each row a piece of the same bar. */
function accountRows(day) {
  const losses = Object.entries(day.short_mol || {})
    .filter(([, mol]) => mol >= LEAST_MOL)
    .sort((a, b) => b[1] - a[1]);
  const lamp = Number.isFinite(day.lamp_mol) ? day.lamp_mol : day.delivered_mol;
  const rows = [{words: "target of the day", mol: day.target_mol, from: 0, fill: "target"}];
  let end = day.target_mol;
  for (const [key, mol] of losses) {
    end -= mol;
    rows.push({
      words: `lost: ${loss(key)}`,
      mol: -mol,
      from: Math.max(0, end),
      width: mol,
      fill: limiter(key).family,
    });
  }
  rows.push({words: "given by the lamps", mol: lamp, from: 0, fill: "lamp"});
  if (day.daylight_mol >= LEAST_MOL)
    rows.push({words: "given by daylight", mol: day.daylight_mol, from: lamp, fill: "daylight"});
  if (!day.is_closed && day.to_come_mol >= LEAST_MOL) {
    rows.push({words: "still to come", mol: day.to_come_mol, from: day.delivered_mol, fill: "tocome"});
  }
  if (day.surplus_mol >= LEAST_MOL) {
    rows.push({words: "above the target", mol: day.surplus_mol, from: day.target_mol, fill: "plan"});
  }
  return rows;
}

export function account(day) {
  if (!(day.target_mol > 0)) return h("p", {}, "No target is set for this day.");
  const rows = accountRows(day);
  const most = Math.max(...rows.map((row) => row.from + Math.abs(row.width ?? row.mol)));
  const bar = (row) =>
    s(
      "svg",
      {class: "gauge piece", "aria-hidden": "true"},
      s("rect", {
        x: pct(row.from / most),
        y: 2,
        width: pct(Math.abs(row.width ?? row.mol) / most),
        height: 16,
        fill: row.fill === "target" ? "none" : `url(#${row.fill})`,
        class: row.fill === "target" ? "outline" : "run",
      }),
    );
  return table(
    `From target to light given, ${MOL}`,
    ["part", "mol", "of the target"],
    rows.map((row) => [row.words, number(row.mol, 2), bar(row)]),
    ["", "figure", "wide"],
  );
}

/* As the days' own report says it; a day without a target is not short. */
function isMet(day) {
  return day.met !== false;
}

/* What the day was, in one paragraph. */
export function daySentence(day) {
  const stage = day.stage ? `${name(day.stage)}, day ${day.stage_day}. ` : "";
  const met = !day.is_closed
    ? " so far"
    : isMet(day)
      ? ", the target was met"
      : `, short by ${unit(day.target_mol - day.delivered_mol, 2, "mol")}`;
  const price =
    day.energy_kwh > 0.0005
      ? ` at ${number(day.cost / day.energy_kwh, 3)} ${day.currency} per kWh in the mean`
      : "";
  const at = (text) => (text ? clock(civil(text)) : null);
  const on = at(day.lights_on),
    off = at(day.lights_off);
  const lit = on ? ` Lights on ${on}${off && day.is_closed ? `, off ${off}` : ""}.` : "";
  return (
    `${stage}${number(day.delivered_mol, 2)} of ${unit(day.target_mol, 2, "mol")}${met}.${lit} ` +
    `${unit(day.energy_kwh, 2, "kWh")}, ${number(day.cost, 2)} ${day.currency}${price}.`
  );
}

export function hours(day) {
  return table(
    `Hour by hour; PPFD in ${UMOL}`,
    ["hour", "PPFD", "mol", "level", "ruled by", "°C", "kWh"],
    (day.hours || []).map((hour) => [
      clock(civil(hour.begin)),
      number(hour.ppfd_umol, 0),
      number(hour.mol, 2),
      percent(hour.level),
      limiter(hour.limiter).words,
      number(hour.heatsink_max_c, 1),
      number(hour.energy_kwh, 3),
    ]),
    ["", "figure", "figure", "figure", "", "figure", "figure"],
  );
}

export function lamps(space) {
  const limits = [
    ...new Set(
      space.fixtures.map(
        (fixture) =>
          `backs off from ${unit(fixture.heat_from_c, 0, "°C")}, trips at ${unit(fixture.heat_trip_c, 0, "°C")}`,
      ),
    ),
  ];
  const list = table(
    "Lamps now",
    ["lamp", "level", "heatsink", "switch and power"],
    space.fixtures.map((fixture) => {
      const contact = fixture.switch_is_known === false ? "not known" : fixture.closed ? "closed" : "open";
      const heat = Number.isFinite(fixture.heat_c) ? unit(fixture.heat_c, 1, "°C") : "no reading";
      return [
        name(fixture.fixture),
        `${percent(fixture.level)}, ${limiter(fixture.limiter).words}`,
        heat,
        `${contact}, ${unit(fixture.watts, 0, "W")}`,
      ];
    }),
  );
  return [
    list,
    h(
      "p",
      {class: "small"},
      limits.length === 1
        ? `Each lamp ${limits[0]}.`
        : space.fixtures
            .map((fixture) => `${name(fixture.fixture)} backs off from ${unit(fixture.heat_from_c, 0, "°C")}`)
            .join(", ") + ".",
    ),
  ];
}

/* The rest of what the daemon knows of a space and its air, a line each. */
export function facts(space, status) {
  const {energy_kwh: energy, cost, currency, hand, ageing} = space;
  const lines = [
    [
      "power",
      `${unit(space.watts, 0, "W")} now, today ${unit(energy, 2, "kWh")} for ${number(cost, 2)} ${currency}`,
    ],
    Number.isFinite(space.air_c)
      ? [
          "air",
          `${unit(space.air_c, 1, "°C")}, ${unit(space.humidity_percent, 0, "%")} humidity, ` +
            `VPD ${unit(space.vpd_kpa, 2, "kPa")}, dew point ${unit(space.dew_point_c, 1, "°C")}`,
        ]
      : null,
    ["light sensor", `${space.ppfd_sensors.map(name).join(", ") || "none"}: ${space.ppfd_quality}`],
    space.out_of_reach ? ["out of reach", thin(space.out_of_reach)] : null,
    hand ? ["by hand", `level ${percent(hand.level)}, for ${duration(hand.left_s)} more`] : null,
    ageing ? ["age of the lamps", thin(ageing.words)] : null,
    status.power ? ["shared supply", thin(status.power.words)] : null,
  ];
  return h(
    "dl",
    {class: "facts"},
    lines
      .filter(Boolean)
      .map(([key, words]) => [h("dt", {}, key), h("dd", {}, words)])
      .flat(),
  );
}

/* A column a day: light given against its target; a short day is hatched and carries a mark. */
function columns(days, onDay) {
  const most = Math.max(...days.map((day) => Math.max(day.delivered_mol, day.target_mol))) * 1.12 || 1;
  const width = 100 / Math.max(days.length, 10);
  const marks = days.flatMap((day, i) => {
    const x = i * width,
      met = isMet(day);
    const height = 110 * (day.delivered_mol / most),
      target = 120 - 110 * (day.target_mol / most);
    return [
      s(
        "rect",
        {
          x: `${x + width * 0.14}%`,
          y: 120 - height,
          width: `${width * 0.72}%`,
          height,
          fill: met ? "url(#plan)" : "url(#heat)",
          class: "run",
          onclick: () => onDay(day.light_day),
        },
        s("title", {}, `${longDate(day.light_day)}: ${daySentence(day)}`),
      ),
      s("line", {x1: `${x}%`, x2: `${x + width}%`, y1: target, y2: target, class: "target"}),
      met
        ? null
        : s(
            "text",
            {x: `${x + width / 2}%`, y: target - 4, "text-anchor": "middle", class: "tag strong"},
            "▼",
          ),
    ];
  });
  const labels = [0, days.length - 1].map((i) =>
    s(
      "text",
      {x: i ? "100%" : "0%", y: 140, class: "tag", "text-anchor": i ? "end" : "start"},
      shortDate(days[i].light_day),
    ),
  );
  return s(
    "svg",
    {class: "gauge month", role: "img", "aria-label": monthWords(days)},
    ...marks.filter(Boolean),
    s("line", {x1: 0, x2: "100%", y1: 120, y2: 120, class: "edge"}),
    ...(days.length > 1 ? labels : [labels[0]]),
  );
}

function monthWords(days) {
  const met = days.filter(isMet).length;
  const sum = (key) => days.reduce((total, day) => total + (day[key] || 0), 0);
  return `${met} of ${days.length} days met their target; ${unit(sum("energy_kwh"), 1, "kWh")}, ${number(sum("cost"), 2)} ${days[0].currency}`;
}

export function month(days, onDay) {
  if (!days.length) return [h("p", {}, "No day is closed yet.")];
  const rows = [...days].reverse().map((day) => [
    h(
      "button",
      {type: "button", class: "plain", onclick: () => onDay(day.light_day)},
      shortDate(day.light_day),
    ),
    `${number(day.delivered_mol, 2)} of ${number(day.target_mol, 2)}`,
    isMet(day) ? "met" : "▼ short",
    number(day.energy_kwh, 2),
    number(day.cost, 2),
    Object.entries(day.short_mol || {})
      .filter(([, mol]) => mol >= 0.05)
      .map(([key, mol]) => `${loss(key)} ${number(mol, 2)}`)
      .join(", "),
  ]);
  return [
    h("p", {}, monthWords(days) + ". Line: each day’s target; ▼ and hatched: short of it."),
    columns(days, onDay),
    h(
      "details",
      {},
      h("summary", {}, "As a table"),
      table("The last days", ["day", "mol", "target", "kWh", days[0].currency, "lost, mol"], rows, [
        "",
        "figure",
        "",
        "figure",
        "figure",
        "",
      ]),
    ),
  ];
}

const CLASS_WORDS = {alarm: ["!", "alarm"], notice: ["*", "notice"], info: ["", ""]};

/* A sweep moves outputs by hand some hundred times: of many in a row the first is told, and how many followed. */
function folded(list) {
  const isByHand = (event) => event.kind.startsWith("try-");
  const kept = [];
  for (let i = 0; i < list.length; i++) {
    kept.push(list[i]);
    let last = i;
    while (isByHand(list[i]) && list[last + 1] && isByHand(list[last + 1])) last++;
    if (last - i < FOLD_FROM) continue;
    kept.push({...list[last], text: `the last of ${last - i} more by hand`, fixture: ""});
    i = last;
  }
  return kept;
}

export function events(list) {
  if (!list.length) return h("p", {}, "Nothing is noted for this day.");
  return h(
    "ol",
    {class: "events"},
    folded(list).map((event) => {
      const [mark, words] = CLASS_WORDS[event.class] || ["", ""];
      return h(
        "li",
        {class: event.class},
        h("time", {}, clock(civil(event.time), true)),
        h("span", {class: "sign", role: mark ? "img" : null, "aria-label": words || null}, mark),
        h("span", {}, thin(event.fixture ? `${event.fixture}: ${event.text}` : event.text)),
      );
    }),
  );
}
