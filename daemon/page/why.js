/* SPDX-License-Identifier: Apache-2.0 */
/* The rules behind one minute: a sentence, then who allowed how much, the strongest first. */
import {h, table} from "./dom.js";
import {name, percent, thin} from "./words.js";

function rows(rules) {
  return rules
    .filter((rule) => rule.rules || Number.isFinite(rule.allowed))
    .map((rule) => [
      rule.rules ? h("strong", {}, `${rule.words} – it ruled`) : rule.words,
      Number.isFinite(rule.allowed) ? percent(rule.allowed) : "–",
      thin(rule.saw ?? ""),
    ]);
}

function rulesOf(caption, rules) {
  const its = rows(rules);
  return its.length ? [table(caption, ["rule", "allows", "saw"], its, ["", "figure", ""])] : [];
}

export function why(answer) {
  const fixtures = (answer.fixtures ?? []).flatMap((one) => rulesOf(`Fixture ${name(one.fixture)}`, one.rules));
  return [
    h("p", {}, thin(answer.sentence ?? "")),
    answer.note ? h("p", {class: "remark"}, answer.note) : null,
    ...rulesOf(`Rules of ${name(answer.space)}`, answer.rules ?? []),
    ...fixtures,
  ].filter((part) => part !== null);
}
