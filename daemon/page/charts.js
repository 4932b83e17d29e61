/* SPDX-License-Identifier: Apache-2.0 */
/* The day as curves, one under the other on one time axis. The curves are drawn by dygraphs, which the server has from
 * its Debian package; without it the tables below say the same. */
import {h, s, say} from "./dom.js";
import {ask} from "./link.js";
import {why} from "./why.js";
import {civil, clock, limiter, number, percent, unit, UMOL} from "./words.js";

const DAY_MS = 86400000;
const HOUR_MS = 3600000;
const MINUTE_MS = 60000;
const LEAST_TICK = 34; /* pixels from hour to hour */
const LEAST_LETTER = 12; /* pixels of a run that can hold a letter */
const LEAST_NAME = 7.5; /* pixels a letter of its name */

let library = null;

/* true once dygraphs is here, false where the server has none. */
function load() {
  library ??= new Promise((done) => {
    const script = h("script", {src: "/dygraph.js"});
    script.addEventListener("load", () => {
      /* its legend writes style attributes, which the page's policy refuses; ours stands above each chart */
      Dygraph.PLUGINS = Dygraph.PLUGINS.filter((plugin) => plugin !== Dygraph.Plugins.Legend);
      done(true);
    });
    script.addEventListener("error", () => done(false));
    document.head.append(h("link", {rel: "stylesheet", href: "/dygraph.css"}), script);
  });
  return library;
}

function ink(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

/* Rows as objects of the named columns, with `at` in civil milliseconds. */
export function readMinutes(answer, offsetS) {
  return answer.rows.map((row) => {
    const minute = Object.fromEntries(answer.columns.map((column, i) => [column, row[i]]));
    minute.at = (minute.wall_s + offsetS) * 1000;
    minute.limiter = answer.limiters[minute.limiter] ?? minute.limiter;
    return minute;
  });
}

/* Stretches ruled by one limiter; a hole of the journal ends one. */
export function runs(minutes) {
  const all = [];
  for (const minute of minutes) {
    const last = all.at(-1);
    if (last && last.limiter === minute.limiter && minute.at - last.to < 1.5 * MINUTE_MS)
      last.to = minute.at + MINUTE_MS;
    else all.push({limiter: minute.limiter, from: minute.at, to: minute.at + MINUTE_MS});
  }
  return all;
}

export function runWords(all) {
  const isLong = (run) => run.to - run.from >= 5 * MINUTE_MS;
  const long = all.filter(all.length > 8 ? isLong : () => true).slice(0, 14);
  const words = long.map(
    (run) => `${clock(run.from)}–${run.to % DAY_MS ? clock(run.to) : "24:00"} ${limiter(run.limiter).words}`,
  );
  const rest = all.length - long.length;
  if (rest > 0) words.push(`${rest} shorter ${rest === 1 ? "stretch" : "stretches"}`);
  return words.join(", ");
}

function withGaps(minutes, pick) {
  const rows = [];
  let before = null;
  for (const minute of minutes) {
    if (before !== null && minute.at - before > 1.5 * MINUTE_MS)
      rows.push([before + 1000, ...pick(minute).map(() => null)]);
    rows.push([minute.at, ...pick(minute)]);
    before = minute.at;
  }
  return rows;
}

/* Behind what was noted the plan's hours, in a column of their own: a row where each begins and one where it ends. */
function andAhead(minutes, plan, past, ahead) {
  const rows = withGaps(minutes, (minute) => [past(minute), null]);
  const last = minutes.at(-1)?.at ?? 0;
  for (const hour of plan?.hours || []) {
    const [from, to] = [civil(hour.from), civil(hour.to) - 1];
    if (to > last) rows.push([Math.max(from, last + 1), null, ahead(hour)], [to, null, ahead(hour)]);
  }
  return rows;
}

/* Full hours, every one to six of them as there is room. */
function hourTicks(from, to, pixels) {
  const step = [1, 2, 3, 4, 6].find((hours) => (pixels / 24) * hours >= LEAST_TICK) ?? 12;
  const ticks = [];
  for (let at = from; at <= to; at += HOUR_MS * step) {
    const hour = new Date(at).getUTCHours();
    ticks.push({v: at, label: at === to && hour === 0 ? "24" : String(hour).padStart(2, "0")});
  }
  return ticks;
}

const AXES = {
  x: {ticker: hourTicks, drawGrid: true},
  y: {
    axisLabelFormatter: (value) => number(value, value % 1 ? 2 : 0),
    axisLabelWidth: 44,
    pixelsPerLabel: 30,
  },
};

function options(chart, window, nowMs) {
  return {
    labels: chart.labels,
    colors: chart.colors.map(ink),
    axes: AXES,
    dateWindow: window,
    legend: "never",
    interactionModel: {},
    strokeWidth: 2,
    fillAlpha: 0.55,
    drawGapEdgePoints: true,
    gridLineColor: ink("--line"),
    axisLineColor: ink("--ink-soft"),
    axisLabelFontSize: 14,
    highlightCircleSize: 4,
    connectSeparatedPoints: false,
    rightGap: 12,
    includeZero: chart.includeZero ?? true,
    ...chart.more,
    underlayCallback: (canvas, area, graph) => {
      const line = (x1, y1, x2, y2, dash) => {
        canvas.save();
        canvas.setLineDash(dash);
        canvas.strokeStyle = ink("--ink");
        canvas.beginPath();
        canvas.moveTo(x1, y1);
        canvas.lineTo(x2, y2);
        canvas.stroke();
        canvas.restore();
      };
      if (nowMs > window[0] && nowMs < window[1]) {
        const x = graph.toDomXCoord(nowMs);
        line(x, area.y, x, area.y + area.h, [2, 4]);
      }
      if (Number.isFinite(chart.limit)) {
        const y = graph.toDomYCoord(chart.limit);
        line(area.x, y, area.x + area.w, y, [8, 4]);
      }
    },
  };
}

export class DayCharts {
  constructor() {
    this.stack = h("div", {class: "charts"});
    this.readout = h("p", {class: "readout", "aria-live": "off"});
    this.range = h("input", {
      type: "range",
      min: 0,
      step: 1,
      id: "minute",
      oninput: () => this.point(Number(this.range.value)),
    });
    this.slider = h("p", {class: "slider"}, h("label", {for: "minute"}, "Read at"), this.range);
    this.runs = h("p", {class: "runs"});
    this.whyButton = h(
      "button",
      {type: "button", class: "why-button", onclick: () => this.askWhy()},
      "Why was it so?",
    );
    this.why = h("div", {class: "why", role: "status"});
    this.missing = h(
      "p",
      {class: "remark", hidden: true},
      "The curves need the package libjs-dygraphs on the daemon’s computer. The tables below say the same.",
    );
    this.node = h("div", {}, this.missing, this.stack, this.slider, this.readout, this.whyButton, this.why, this.runs);
    this.graphs = [];
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.redraw());
    matchMedia("print").addEventListener("change", () => this.redraw());
    addEventListener("resize", () => this.band());
  }

  async draw(day) {
    this.day = day;
    say(
      this.runs,
      day.minutes.length
        ? `Who ruled: ${runWords(runs(day.minutes))}.`
        : "No minutes are noted of this day yet.",
    );
    this.range.max = Math.max(0, day.minutes.length - 1);
    this.range.disabled = this.whyButton.disabled = day.minutes.length === 0;
    this.point(day.minutes.length - 1);
    const isThere = await load();
    this.missing.hidden = isThere;
    this.stack.hidden = !isThere;
    if (isThere) this.redraw();
  }

  clear() {
    this.day = null;
    this.stack.hidden = true;
    this.whyButton.disabled = true;
    this.why.replaceChildren();
    say(this.readout, "");
    say(this.runs, "");
  }

  charts() {
    const {minutes, plan, limitC, currency} = this.day;
    const prices = [...minutes, ...(plan?.hours || [])].map((one) => one.price_per_kwh);
    const light = minutes.map((minute) => (minute.lamp_umol || 0) + (minute.daylight_umol || 0));
    const list = [
      {
        title: `Light at the canopy, ${UMOL}`,
        key: [
          ["lamp", "lamps"],
          ["daylight", "daylight, below them"],
        ],
        tall: true,
        labels: ["time", "lamps", "daylight"],
        colors: ["--lamp", "--daylight"],
        more: {stackedGraph: true, valueRange: [0, Math.max(100, ...light) * 1.06]},
        rows: withGaps(minutes, (minute) => [minute.lamp_umol, minute.daylight_umol]),
      },
      {
        title: "Level, %",
        key: [
          ["level", "as it was"],
          ["planned", "as planned, dashed"],
        ],
        labels: ["time", "level", "planned"],
        colors: ["--leaf", "--ink"],
        isLevel: true,
        rows: andAhead(
          minutes,
          plan,
          (minute) => minute.level * 100,
          (hour) => hour.level * 100,
        ),
        more: {
          valueRange: [0, 104],
          series: {planned: {strokePattern: [6, 4], strokeWidth: 1.5}, level: {fillGraph: true}},
        },
      },
      {
        title: `Temperature, °C${Number.isFinite(limitC) ? `; the lamps back off from ${unit(limitC, 0, "°C")} (dashed)` : ""}`,
        key: [
          ["hot", "hottest heatsink"],
          ["cool", "air, dotted"],
        ],
        labels: ["time", "heatsink", "air"],
        colors: ["--heat", "--daylight"],
        limit: limitC,
        rows: withGaps(minutes, (minute) => [minute.heatsink_c, minute.air_c]),
        more: {
          valueRange: [0, Math.max(limitC || 0, ...minutes.map((minute) => minute.heatsink_c || 0)) + 8],
          series: {air: {strokePattern: [2, 3]}},
        },
      },
    ];
    if (new Set(prices).size > 1) {
      list.push({
        title: `Price, ${currency} per kWh`,
        key: [
          ["price", "paid"],
          ["ahead", "ahead, dashed"],
        ],
        labels: ["time", "price", "ahead"],
        colors: ["--ink-soft", "--ink-soft"],
        more: {stepPlot: true, series: {ahead: {strokePattern: [6, 4]}}},
        rows: andAhead(
          minutes,
          plan,
          (minute) => minute.price_per_kwh,
          (hour) => hour.price_per_kwh,
        ),
      });
    }
    return list;
  }

  redraw() {
    if (!this.day || !globalThis.Dygraph || this.stack.hidden) return;
    for (const graph of this.graphs) graph.destroy();
    const begin = this.day.beginMs;
    this.stack.replaceChildren();
    this.graphs = this.charts().map((chart) => {
      const host = h("div", {class: chart.tall ? "chart tall" : "chart", "aria-hidden": "true"});
      this.stack.append(
        h("h4", {}, chart.title),
        h(
          "p",
          {class: "key"},
          chart.key.map(([mark, words]) => h("span", {}, h("i", {class: `swatch ${mark}`}), words)),
        ),
        host,
      );
      const rows = chart.rows.length ? chart.rows : [[begin, ...chart.colors.map(() => null)]];
      const graph = new Dygraph(host, rows, options(chart, [begin, begin + DAY_MS], this.day.nowMs));
      graph.updateOptions({highlightCallback: (event, ms) => this.pointAt(ms)}, true);
      if (chart.isLevel) {
        this.ruled = h("div", {class: "ruled"});
        this.stack.append(this.ruled);
        this.levelGraph = graph;
      }
      return graph;
    });
    this.band();
  }

  /* The limiter band, exactly below the level's axis; every run has its name, its letter, or at least its hatching. */
  band() {
    if (!this.ruled || !this.levelGraph || !this.day) return;
    const area = this.levelGraph.getArea();
    const {beginMs, minutes} = this.day;
    if (!(area.w > 0)) return;
    const scale = area.w / DAY_MS;
    const strips = runs(minutes).flatMap((run) => {
      const {words, letter, family} = limiter(run.limiter);
      const x = area.x + (run.from - beginMs) * scale,
        width = (run.to - run.from) * scale;
      const text = width > words.length * LEAST_NAME ? words : width > LEAST_LETTER ? letter : "";
      const half = text.length * 3.6 + 4;
      const rect = s(
        "rect",
        {x, y: 0, width, height: 24, fill: `url(#${family})`, class: "run"},
        s("title", {}, words),
      );
      const plate = s("rect", {x: x + width / 2 - half, y: 4, width: half * 2, height: 16, class: "plate"});
      return text
        ? [rect, plate, s("text", {x: x + width / 2, y: 17, "text-anchor": "middle", class: "name"}, text)]
        : [rect];
    });
    this.ruled.replaceChildren(s("svg", {class: "gauge runs", "aria-hidden": "true"}, ...strips));
  }

  pointAt(ms) {
    const {minutes} = this.day;
    const i = minutes.findIndex((minute) => minute.at >= ms);
    if (i >= 0) this.point(i, true);
  }

  point(i) {
    const minute = this.day?.minutes[i];
    if (!minute) {
      say(this.readout, "");
      return;
    }
    this.range.value = i;
    if (minute.wall_s !== this.explained) this.why.replaceChildren();
    const light = (minute.lamp_umol || 0) + (minute.daylight_umol || 0);
    const words =
      `${clock(minute.at)}: ${number(light, 0)} ${UMOL}, ${number(minute.daylight_umol || 0, 0)} of it daylight; level ` +
      `${percent(minute.level)}, ${limiter(minute.limiter).words}; heatsink ${unit(minute.heatsink_c, 1, "°C")}, air ` +
      `${unit(minute.air_c, 1, "°C")}; ${unit(minute.watts, 0, "W")}; ${number(minute.price_per_kwh, 3)} ${this.day.currency} per kWh; ` +
      `${number(minute.delivered_mol, 2)} of ${unit(minute.target_mol, 2, "mol")}`;
    say(this.readout, words);
    this.range.setAttribute("aria-valuetext", words);
  }

  /* The rules behind the minute that is read, from the journal. */
  async askWhy() {
    const {space, minutes, offset} = this.day;
    const minute = minutes[Number(this.range.value)];
    const time = new Date(minute.at).toISOString().slice(0, 16) + offset;
    const [answer] = await Promise.allSettled([ask("/why.json", {space, time})]);
    if (minute !== this.day?.minutes[Number(this.range.value)]) return; /* another one is read by now */
    this.explained = minute.wall_s;
    this.why.replaceChildren(
      ...(answer.status === "fulfilled" ? why(answer.value) : [h("p", {class: "remark"}, answer.reason.message)]),
    );
  }
}
