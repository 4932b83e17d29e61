#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The Modbus drivers beside what the wire allows: reads without a pause of 1, 4 and 16 devices of 6 registers
# on an emulated line of 9600 and 19200 Bd, what merging and a dead device change, and on TCP beside a bare
# loop of libmodbus. How it is calculated: bench_bus.c, tests/support/wire.h. On a busy machine
# machine_late_us (and without real-time priority wire_late_us) grows, and the ratios fall with it. About 60 s.
# figures: bus.wire_ratio_9600_1 bus.wire_ratio_9600_4 bus.wire_ratio_9600_16 bus.wire_ratio_19200_1
# figures: bus.wire_ratio_19200_4 bus.wire_ratio_19200_16 bus.merge_gain bus.dead_device_loss
# figures: bus.wakeups_per_read bus.wire_late_us bus.machine_late_us bus.tcp_ratio
set -eu
cmake --build "$1" --target bench_bus bench_bus_tcp >&2
"$1/tests/bench_bus"
"$1/tests/bench_bus_tcp"
