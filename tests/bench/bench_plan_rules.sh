#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The core alone (core) and the usual ways to light a space under daylight, on every year in the data folder
# (LAMPWARDEN_DATA, or ../shared/data beside the sources; without it indoors alone): cost over the cheapest
# possible in hindsight, missed days, lamp-made surplus, starts a day. A place is SITE.TARIFF.BEGIN.
# figures: plan.core.* plan.timer.* plan.threshold.* plan.fill.* plan.hourly.*
set -eu
cmake --build "$1" --target bench_plan_rules >&2
"$1/tests/bench_plan_rules" "$2"
