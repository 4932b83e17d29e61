#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Years with something wrong, through the daemon's rehearsal on ticks of a minute, indoors and under an invented sun:
# days below 98 % of the target in truth, light short of it in truth, cost of the lamp light over the cheapest in
# hindsight, alarms and notices, night breaks. none: nothing is wrong; heat: evenings that leave half of the lamps, for a
# month; gain: the sensor drifts to 5 % too high in 60 days and stays there; gain_accepted: nine days later a person
# accepts a correction; sensor: no reading for two days; prices: a file without the last day; clock: an hour forward and
# back. A light that falls in a night, or anything else that must never be, ends the run.
# figures: plan.fault.*
set -eu
cmake --build "$1" --target bench_plan_faults >&2
"$1/tests/bench_plan_faults"
