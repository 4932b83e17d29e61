#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# A journal that cannot be opened at all, because its folder is missing or read-only: light runs.
. "$(dirname "$0")/common.sh"
need_slave

is_lit() { coil_is 1 && test "$(register)" -gt 2000; }
is_waiting() { journal_is waiting; }

light_runs_with() {
    journal=$1
    write_config tcp
    start_daemon
    wait_for 30 "light with the journal at $1" is_lit
    wait_for 10 "a journal that waits at $1" is_waiting
    stop_daemon TERM || fail "a stop with the journal at $1 ended with code $?"
    coil_is 0 || fail "the contact is closed after the stop"
}

start_slave tcp
: >"$work/file"
light_runs_with "$work/file/journal.db" # no folder can ever be there
light_runs_with "$work/missing/folder/journal.db"

mkdir "$work/frozen"
if mount -t tmpfs -o ro none "$work/frozen" 2>/dev/null; then
    light_runs_with "$work/frozen/journal.db"
elif [ "$(id -u)" -ne 0 ] && chmod 0555 "$work/frozen"; then
    light_runs_with "$work/frozen/journal.db"
else
    echo "$name: a read-only folder cannot be made here, that part was left out"
fi
echo "$name: passed"
