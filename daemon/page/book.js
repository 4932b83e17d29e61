/* SPDX-License-Identifier: Apache-2.0 */
/* Below the first screen: one space's book. A light day with its curves and account, then the days and nights before. */
import {DayCharts, readMinutes} from "./charts.js";
import {h, say, show} from "./dom.js";
import {ask} from "./link.js";
import {nights} from "./nights.js";
import {account, daySentence, events, facts, hours, lamps, month} from "./records.js";
import {civil, longDate, name, offsetText} from "./words.js";

const STEP_MS = 60000; /* of the daemon's time, between two readings of the running day */
const PAST_MS = 1800000; /* … and of the days before it */
const LEAST_MS = 8000; /* of ours: a demonstration runs faster */
const DAY_MS = 86400000;

function chapter(key, title, ...content) {
  const id = `${key}-title`;
  return h("section", {class: `chapter of-${key}`, "aria-labelledby": id}, h("h3", {id}, title), ...content);
}

export class Book {
  constructor(names) {
    this.space = names[0];
    this.day = null; /* null: the one that runs */
    this.read = {at: -Infinity, ours: -Infinity, day: null};
    this.past = {at: -Infinity, of: null};
    this.shown = {space: names[0], day: null, date: null};
    this.charts = new DayCharts();
    this.heading = h("h2", {id: "book"}, "");
    this.trouble = h("p", {class: "remark", role: "status", hidden: true});
    this.slots = Object.fromEntries(
      ["words", "account", "lamps", "hours", "month", "nights", "events"].map((key) => [
        key,
        h("div", {class: key}),
      ]),
    );
    this.before = h("button", {type: "button", onclick: () => this.turn(-1)}, "‹ day before");
    this.after = h("button", {type: "button", onclick: () => this.turn(1)}, "day after ›");
    const {
      words,
      account: mol,
      lamps: now,
      hours: table,
      month: past,
      nights: dark,
      events: log,
    } = this.slots;
    this.node = h(
      "section",
      {class: "book", "aria-labelledby": "book"},
      this.tabs(names),
      this.heading,
      h("p", {class: "turn"}, this.before, this.after),
      this.trouble,
      words,
      h(
        "div",
        {class: "chapters"},
        chapter(
          "day",
          "The day",
          this.charts.node,
          h("details", {}, h("summary", {}, "As a table, hour by hour"), table),
        ),
        chapter("mol", "Where the light went", mol),
        chapter("lamps", "Lamps and air now", now),
        chapter("month", "The last 30 days", past),
        chapter("nights", "Nights", dark),
        chapter("events", "Events of the day", log),
      ),
    );
  }

  tabs(names) {
    const tab = (space, i) =>
      h(
        "label",
        {},
        h("input", {
          type: "radio",
          name: "space",
          value: space,
          checked: i === 0,
          onchange: () => this.open(space, null),
        }),
        h("span", {}, name(space)),
      );
    return h("fieldset", {class: "tabs"}, h("legend", {}, "Book of"), names.map(tab));
  }

  open(space, day) {
    this.space = space;
    this.day = day;
    this.load();
  }

  turn(by) {
    if (!this.shown.date) return;
    const shown = Date.parse(this.shown.date + "T00:00:00Z") + by * DAY_MS;
    const day = new Date(shown).toISOString().slice(0, 10);
    this.open(this.space, day >= this.today() ? null : day);
  }

  today() {
    return (
      this.status?.spaces.find((space) => space.space === this.space)?.light_day ??
      this.status?.time.slice(0, 10)
    );
  }

  /* Every new picture: the lamps at once, the day when it has moved on. */
  update(status) {
    this.status = status;
    const its = status.spaces.find((space) => space.space === this.space);
    if (its) this.slots.lamps.replaceChildren(...lamps(its), facts(its, status));
    const hasMoved =
      Math.abs(civil(status.time) - this.read.at) >= STEP_MS &&
      performance.now() - this.read.ours >= LEAST_MS;
    const isVisible = document.visibilityState === "visible";
    if (this.day === null && isVisible && (hasMoved || this.today() !== this.read.day)) this.load();
  }

  async load() {
    const {space, day} = this;
    this.read = {at: civil(this.status.time), ours: performance.now(), day: this.today()};
    const query = day ? {space, day} : {space};
    const [its, minutes, plan] = await Promise.allSettled([
      ask("/day.json", query),
      ask("/minutes.json", query),
      day ? null : ask("/plan.json", {space}),
    ]);
    if (space !== this.space || day !== this.day) return; /* another page was turned to meanwhile */
    const failed = [its, minutes].find((one) => one.status === "rejected");
    say(this.trouble, failed ? `From the journal: ${failed.reason.message}` : "");
    show(this.trouble, Boolean(failed));
    if (its.status === "fulfilled") this.showDay([its.value].flat()[0], minutes.value, plan.value);
    else this.stay();
    if (this.past.of !== space + this.read.day || Math.abs(this.read.at - this.past.at) >= PAST_MS)
      this.loadPast();
  }

  /* There is no such day: the page that is open stays open; of another space there is none. */
  stay() {
    if (this.shown.space === this.space) {
      this.day = this.shown.day;
      return;
    }
    this.shown = {space: this.space, day: null, date: this.today()};
    say(this.heading, name(this.space));
    for (const key of ["words", "account", "hours", "events"]) this.slots[key].replaceChildren();
    this.charts.clear();
  }

  async loadPast() {
    const {space} = this;
    this.past = {at: this.read.at, of: space + this.read.day};
    const [days, dark] = await Promise.allSettled([
      ask("/days.json", {space, count: 30}),
      ask("/nights.json", {space, count: 30}),
    ]);
    if (space !== this.space) return;
    this.fillSlot("month", days, (value) => month(value.days, (one) => this.open(this.space, one)));
    this.fillSlot("nights", dark, (value) => nights(value));
  }

  fillSlot(key, answer, make) {
    const words =
      answer.status === "fulfilled" ? make(answer.value) : [h("p", {class: "remark"}, answer.reason.message)];
    this.slots[key].replaceChildren(...words);
  }

  showDay(day, minutes, plan) {
    this.shown = {space: this.space, day: this.day, date: day.light_day};
    say(this.heading, `${name(this.space)}, ${longDate(day.light_day)}`);
    this.after.disabled = this.day === null;
    this.slots.words.replaceChildren(h("p", {}, daySentence(day)));
    this.slots.account.replaceChildren(account(day));
    this.slots.hours.replaceChildren(hours(day));
    this.slots.events.replaceChildren(events(day.events || []));
    if (!minutes) return;
    const its = this.status.spaces.find((space) => space.space === this.space);
    const limits = its.fixtures.map((fixture) => fixture.heat_from_c).filter(Number.isFinite);
    this.charts.draw({
      space: day.space,
      offset: offsetText(day.utc_offset_s),
      minutes: readMinutes(minutes, day.utc_offset_s),
      beginMs: (minutes.begin_s + day.utc_offset_s) * 1000,
      nowMs: this.day === null ? civil(this.status.time) : -1,
      limitC: limits.length ? Math.min(...limits) : NaN,
      currency: day.currency,
      plan: plan && plan.spaces.find((one) => one.space === this.space && !one.is_tomorrow),
    });
  }
}
