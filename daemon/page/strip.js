/* SPDX-License-Identifier: Apache-2.0 */
/* One space on the first screen: what it does in words, its instruments, when it switches next. */
import {h, say, show} from "./dom.js";
import {levelBand, molRule, thermometer} from "./gauges.js";
import {civil, clock, duration, limiter, loss, name, number, percent, thin, unit, UMOL} from "./words.js";

const CLOSE_MOL = 0.05; /* what rounds to the same figure is the same */

/* When the target (or what can be had of it) will be there, by the plan's hours. */
function reachedAt(space, plan) {
  const goal = Math.min(space.target_mol, space.forecast_mol) - CLOSE_MOL / 2;
  if (!plan || plan.is_tomorrow || !(goal > space.delivered_mol)) return "";
  let mol = plan.delivered_mol;
  for (const hour of plan.hours) {
    const gain = hour.lamp_mol + hour.daylight_mol;
    if (mol + gain >= goal && gain > 0) {
      const from = civil(hour.from);
      return " at " + clock(from + (civil(hour.to) - from) * Math.min(1, Math.max(0, (goal - mol) / gain)));
    }
    mol += gain;
  }
  return "";
}

function largestLoss(missing) {
  const [first] = Object.entries(missing || {}).sort((a, b) => b[1] - a[1]);
  return first && first[1] >= CLOSE_MOL ? ` by ${loss(first[0])}` : "";
}

function course(space, plan) {
  if (!(space.target_mol > 0)) return "";
  const {delivered_mol: got, target_mol: target, forecast_mol: forecast} = space;
  const so = `; ${number(got, 1)} of ${unit(target, 1, "mol")}`;
  if (space.limiter === "target-met") return ""; /* its state says so */
  if (got >= target - CLOSE_MOL) return `${so}, the day’s target is met`;
  if (!Number.isFinite(forecast)) return so;
  const short = target - forecast;
  if (short < CLOSE_MOL) return `${so}, on course for ${number(forecast, 1)}${reachedAt(space, plan)}`;
  const end = forecast - got < CLOSE_MOL ? "" : `on course for ${number(forecast, 1)}, `;
  return `${so}, ${end}${number(short, 1)} short${largestLoss(space.missing_mol)}`;
}

export function sentence(space, time, plan) {
  const stage = space.stage ? `, day ${space.stage_day} of ${name(space.stage)}` : "";
  return thin(`${clock(civil(time))}${stage}, ${space.state}${course(space, plan)}.`);
}

/* The next change of the lamps: the plan's own, or that of the lit hours. Lamps that are dark within these, whatever
 * holds them, are said to be over when the hours are. */
export function nextSwitch(space, time, plan) {
  const now = civil(time);
  const isByPlan = space.limiter === "plan" || space.limiter === "target-met";
  if (space.until_off_s > 0 && !(space.level > 0)) {
    const mayComeOn = isByPlan && !(space.asked_level > 0); /* else it is about to */
    const next = mayComeOn && plan?.hours.find((hour) => hour.level > 0 && civil(hour.from) > now);
    if (next) return ["on by plan", civil(next.from), (civil(next.from) - now) / 1000];
    return isByPlan ? null : ["day ends", now + space.until_off_s * 1000];
  }
  if (space.until_off_s > 0) return ["off at", now + space.until_off_s * 1000, space.until_off_s];
  if (space.until_on_s > 0) return ["on at", now + space.until_on_s * 1000, space.until_on_s];
  return null;
}

function hottest(space) {
  const known = space.fixtures.filter((fixture) => Number.isFinite(fixture.heat_c));
  const first = known.sort((a, b) => b.heat_c - a.heat_c)[0];
  const of = first || space.fixtures[0] || {};
  return {c: first ? first.heat_c : NaN, from_c: of.heat_from_c, trip_c: of.heat_trip_c};
}

/* A switch that was told to open and did not confirm it: nobody knows whether its lamp is dark. */
function mayBeLit(space) {
  return !(space.level > 0) && space.fixtures.some((fixture) => fixture.switch_is_known === false);
}

function light(space) {
  if (space.ppfd_quality === "good" && Number.isFinite(space.ppfd_umol)) {
    const sun = space.daylight_umol >= 1 ? `, ${number(space.daylight_umol, 0)} of it daylight` : "";
    return `${number(space.ppfd_umol, 0)} ${UMOL}${sun}`;
  }
  if (mayBeLit(space)) return "no light reading";
  const reckoned = Number.isFinite(space.lamp_umol) ? `, reckoned ${number(space.lamp_umol, 0)} ${UMOL}` : "";
  return `no light reading${reckoned}`;
}

function air(space) {
  if (!Number.isFinite(space.air_c)) return "";
  const humid = Number.isFinite(space.humidity_percent)
    ? `, ${unit(space.humidity_percent, 0, "%")} humidity`
    : "";
  return `air ${unit(space.air_c, 1, "°C")}${humid}`;
}

export class Strip {
  constructor(space) {
    const id = `strip-${space}`;
    this.state = h("p", {class: "state"});
    this.switching = h("p", {class: "switching"});
    this.rule = h("div", {class: "slot"});
    this.level = h("p", {class: "reading"});
    this.band = h("div", {class: "slot"});
    this.heat = h("p", {class: "reading"});
    this.tube = h("div", {class: "slot"});
    this.light = h("span", {});
    this.air = h("span", {});
    this.sign = h("span", {class: "sign", hidden: true}, "! ", h("span", {class: "unseen"}, "alarm: "));
    this.node = h(
      "article",
      {class: "strip", "aria-labelledby": id},
      h(
        "div",
        {class: "title"},
        h("h2", {id}, this.sign, h("span", {class: "called"}, name(space))),
        this.switching,
      ),
      this.state,
      this.rule,
      h("div", {class: "pair"}, h("div", {}, this.level, this.band), h("div", {}, this.heat, this.tube)),
      h("p", {class: "line"}, this.light, " ", this.air),
    );
  }

  /* `ageWords` is "" while what is shown is fresh. */
  update(space, time, plan, ageWords) {
    say(this.state, (ageWords ? "Last known: " : "") + sentence(space, time, plan));
    const next = nextSwitch(space, time, plan);
    say(
      this.switching,
      next ? `${next[0]} ${clock(next[1])}${ageWords || !next[2] ? "" : `, in ${duration(next[2])}`}` : "",
    );
    show(this.sign, space.faults.length > 0);
    const isMeant = space.target_mol > 0;
    this.rule.replaceChildren(...(isMeant ? [molRule(space)] : []));
    const {words} = limiter(space.limiter);
    this.level.replaceChildren(
      h("b", {}, space.level > 0 ? percent(space.level) : mayBeLit(space) ? "may be lit" : "dark"),
      space.level > 0 ? " " : ", ",
      words,
    );
    this.band.replaceChildren(levelBand(space));
    const heat = hottest(space);
    const limit = Number.isFinite(heat.from_c) ? ` of ${number(heat.from_c, 0)}` : "";
    this.heat.replaceChildren(
      "heatsink ",
      h("b", {}, Number.isFinite(heat.c) ? number(heat.c, 0) : "no reading"),
      Number.isFinite(heat.c) ? `${limit}\u202f°C` : "",
    );
    this.tube.replaceChildren(thermometer(heat));
    say(this.light, light(space));
    say(this.air, air(space));
  }
}
