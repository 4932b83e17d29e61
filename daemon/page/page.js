/* SPDX-License-Identifier: Apache-2.0 */
/* Lays out the page from the first picture of the daemon and keeps it up to date. Until then, and without scripts, the
 * server's own summary stands in its place. */
import {Book} from "./book.js";
import {h, say, show} from "./dom.js";
import {patterns} from "./gauges.js";
import {ask, Link} from "./link.js";
import {Strip} from "./strip.js";
import {civil, clock, duration, isoDay, name, offset, shortDate, thin} from "./words.js";

const PLAN_MS = 240000; /* of the daemon's time: it plans anew every five minutes */
const SHOWN_ALARMS = 3;

const main = document.getElementById("main");
const mark = document.getElementById("mark");
const moment = document.getElementById("moment");
const calm = document.getElementById("calm");
const linkLine = document.getElementById("link");

let screen = null; /* strips, alarms, book; made with the first picture */
let latest = null;
const plans = {byName: new Map(), at: -Infinity, isAsked: false};

function reader() {
  const items = [
    "Long bar: the day’s light in mol per m². Solid is what the plants have, hatched what the rest of the day is expected to bring, the heavy stroke is the target.",
    "▼ Even pace: what one and the same level all day would have given by now. Ahead of it or behind it is no fault: the plan gives light where it costs least.",
    "Short bars: the level of the lamps with the name of what holds it, and the hottest heatsink with the hatched part where the lamps back off.",
  ];
  return h(
    "details",
    {class: "reader"},
    h("summary", {}, "How to read the instruments"),
    h(
      "ul",
      {},
      items.map((item) => h("li", {}, item)),
    ),
  );
}

function make(status) {
  const names = status.spaces.map((space) => space.space);
  const strips = new Map(names.map((space) => [space, new Strip(space)]));
  const alarms = h("section", {class: "alarms", "aria-label": "Alarms"});
  const news = h("p", {class: "unseen", role: "alert"});
  const book = new Book(names);
  const key = h(
    "p",
    {class: "legend", "aria-hidden": "true"},
    h("span", {}, h("i", {class: "swatch lamp"}), "so far"),
    h("span", {}, h("i", {class: "swatch tocome"}), "expected"),
    h("span", {}, h("i", {class: "swatch pace"}, "▼"), "even pace"),
    h("span", {}, h("i", {class: "swatch goal"}), "target, mol"),
  );
  main.replaceChildren(
    patterns(),
    news,
    alarms,
    h(
      "div",
      {class: "strips"},
      [...strips.values()].map((strip) => strip.node),
    ),
    key,
    reader(),
    book.node,
  );
  return {names: names.join("\n"), strips, alarms, news, book, alarmWords: null, told: new Set()};
}

/* A lamp that may burn where it must not comes before all that is merely broken: few alarms fit the first screen. */
function urgentFirst(list) {
  const isUrgent = ([, text]) => /\bbe lit\b/.test(text);
  return [...list.filter(isUrgent), ...list.filter((alarm) => !isUrgent(alarm))];
}

function alarmsOf(status) {
  const own = status.faults.map((text) => ["", text]);
  const theirs = status.spaces.flatMap((space) => space.faults.map((text) => [name(space.space), text]));
  return urgentFirst([...own, ...theirs]).map(([space, text]) => [space, thin(text)]);
}

/* A screen reader is told of a new alarm once, not of every second that an alarm counts down. */
function tellNews(list) {
  const now = new Map(
    list.map(([space, text]) => [`${space} ${text}`.replace(/[\d.,]+/g, "#"), `${space} ${text}`]),
  );
  const fresh = [...now].filter(([key]) => !screen.told.has(key)).map(([, words]) => words);
  screen.told = new Set(now.keys());
  if (fresh.length) say(screen.news, `Alarm: ${fresh.map((words) => words.trim()).join("; ")}`);
}

function showAlarms(status) {
  const list = alarmsOf(status);
  tellNews(list);
  const words = JSON.stringify(list);
  if (words === screen.alarmWords) return;
  screen.alarmWords = words;
  const item = ([space, text]) =>
    h(
      "li",
      {},
      h("span", {class: "sign", "aria-hidden": "true"}, "!"),
      " ",
      space ? h("b", {}, space + ":") : null,
      text,
    );
  show(screen.alarms, list.length > 0);
  const rest = list.slice(SHOWN_ALARMS);
  screen.alarms.replaceChildren(
    h("ul", {}, list.slice(0, SHOWN_ALARMS).map(item)),
    ...(rest.length
      ? [h("details", {}, h("summary", {}, `${rest.length} more`), h("ul", {}, rest.map(item)))]
      : []),
  );
}

async function refreshPlans(status) {
  const now = civil(status.time);
  if (plans.isAsked || Math.abs(now - plans.at) < PLAN_MS) return;
  plans.isAsked = true;
  plans.at = now;
  for (const space of status.spaces) {
    try {
      const answer = await ask("/plan.json", {space: space.space});
      plans.byName.set(
        space.space,
        answer.spaces.find((one) => one.space === space.space),
      );
    } catch {
      plans.byName.delete(space.space);
    }
  }
  plans.isAsked = false;
  showStrips();
}

/* In steps of ten seconds: a screen reader need not count along. */
function ageWords() {
  return link.isStale() ? duration(Math.floor(link.ageMs() / 10000) * 10) : "";
}

function showStrips() {
  const age = ageWords();
  for (const space of latest.spaces)
    screen.strips.get(space.space)?.update(space, latest.time, plans.byName.get(space.space), age);
}

function showMoment() {
  const at = civil(latest.time);
  say(moment, `${shortDate(isoDay(at))}, ${clock(at, true)} (${offset(latest.time)})`);
}

function showLink() {
  const isStale = link.isStale();
  document.documentElement.classList.toggle("stale", isStale);
  if (link.isStarting) {
    say(linkLine, "The daemon is starting; it makes every output safe.");
    return;
  }
  if (!latest) {
    say(
      linkLine,
      isStale && link.way === "lost"
        ? "No connection: what stands here is the server’s last summary."
        : "Connecting…",
    );
    return;
  }
  say(calm, isStale ? "Alarms not known" : alarmsOf(latest).length ? "" : "No alarms");
  const way = link.way === "events" ? "Live" : "Asked every 5 s";
  say(
    linkLine,
    isStale
      ? `Connection lost. What stands here is of ${clock(civil(latest.time), true)}, ${ageWords()} old.`
      : way,
  );
}

function onStatus(status) {
  if (!status.is_ready) return;
  if (latest && latest.version !== status.version) location.reload(); /* a new daemon has a new page */
  latest = status;
  const names = status.spaces.map((space) => space.space).join("\n");
  if (screen === null || screen.names !== names) {
    screen = make(status);
    performance.mark("strips");
    const made = screen;
    requestAnimationFrame(() =>
      setTimeout(() => {
        /* the first screen comes before the curves below it */
        made.isDrawn = true;
        made.book.update(latest);
      }),
    );
  }
  say(mark, status.demonstration ? `Demonstration: ${status.demonstration}` : "");
  show(mark, Boolean(status.demonstration));
  showMoment();
  showLink();
  showAlarms(status);
  showStrips();
  if (screen.isDrawn) screen.book.update(status);
  refreshPlans(status);
}

/* On paper every table is open. */
let opened = [];
addEventListener("beforeprint", () => {
  opened = [...document.querySelectorAll("details:not([open])")];
  for (const one of opened) one.open = true;
});
addEventListener("afterprint", () => {
  for (const one of opened) one.open = false;
});

const link = new Link(onStatus);
setInterval(() => {
  const wasStale = document.documentElement.classList.contains("stale");
  showLink();
  if (latest && wasStale !== link.isStale()) showStrips();
}, 1000);
