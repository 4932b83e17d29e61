#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# CPU time of one plan of 48 slots under ten skies, with 3, 24 and 48 different prices.
# figures: plan.us.prices_3 plan.us.prices_24 plan.us.prices_48
set -eu
cmake --build "$1" --target bench_plan_cost >&2
"$1/tests/bench_plan_cost"
