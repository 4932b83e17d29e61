#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# What one space's light day costs on the disk. kb_per_day: bytes handed to the file system as the daemon
# does it, one commit a minute (row and saved state, the running day every ten minutes), checkpoints included.
# file_kb_per_day: by how much the file grows.
# figures: journal.kb_per_day journal.file_kb_per_day
set -eu
cmake --build "$1" --target bench_journal >&2
"$1/tests/bench_journal"
