#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# What the journal writes in a day of three spaces with four fixtures: minute rows, events, day summaries and
# saved states, a commit a minute. kb_per_day: bytes handed over by write calls (wchar of /proc/self/io: the
# write-ahead log and its way into the database); disk_kb_per_day: pages that went towards the disk
# (write_bytes of the same file, 0 where the build folder lies in memory, without what the file system adds);
# file_kb_per_day: growth of the database. kb_per_rehearsed_day: write calls for a day of a rehearsal.
# figures: journal.kb_per_day journal.disk_kb_per_day journal.file_kb_per_day journal.kb_per_rehearsed_day
set -eu
cmake --build "$1" --target bench_journal >&2
work=$(mktemp -d -p "$1")
trap 'rm -rf "$work"' EXIT
"$1/tests/bench_journal" "$work" "$2/tests/data/good/propagation.conf" "$2/etc/demo.conf"
