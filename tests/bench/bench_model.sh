#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# How fast the simulated room runs: it bounds how fast a rehearsal can be.
# figures: model.steps_per_s_1_fixture model.steps_per_s_16_fixtures model.us_per_fixture_step
set -eu
cmake --build "$1" --target bench_model >&2
"$1/tests/bench_model"
