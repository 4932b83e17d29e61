#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# What the verbs write with --json is described in etc/fields.txt, field by field.
# Usage: 37_json_fields.sh BUILD_DIR SOURCE_DIR
. "$(dirname "$0")/common.sh"
need /usr/bin/python3
fields=$source/etc/fields.txt

# described VERB FILE
described() {
    /usr/bin/python3 "$source/tests/support/json_fields.py" "$fields" "$1" "$2" >"$work/said" 2>&1 ||
        fail "$(cat "$work/said")"
}
# writes VERB WORD...: without a daemon
writes() {
    verb=$1
    shift
    "$build/bin/lampwarden" "$verb" "$@" --json >"$work/$verb.json" 2>"$work/cli.log" || fail "$verb: $(cat "$work/cli.log")"
    described "$verb" "$work/$verb.json"
}
# asks VERB WORD...: the daemon
asks() { writes "$@" --socket "$work/control"; }

# A field that was taken away is not described any more: its last part is a word of the source.
sed -n 's/^\([a-z][^: ]*\): .*/\1/p' "$fields" | sed 's/.*\.//; s/\[\]//' | grep -v '[A-Z*]' | sort -u >"$work/names"
grep -rhoE '"[a-z][a-z0-9_]*"' "$source/daemon" | tr -d '"' | sort -u >"$work/words"
comm -23 "$work/names" "$work/words" >"$work/stale"
test ! -s "$work/stale" || fail "described, but nowhere written: $(tr '\n' ' ' <"$work/stale")"

writes lead --current 2 --length 30m --output 48
writes breaker --current 1.3 --inrush 60
writes breaker --current 1.3
writes power "$source/etc/demo.conf" lettuce
writes sheet lettuce -c "$source/etc/demo.conf" --map "$source/tests/data/maps/at60.csv"
writes survey "$source"/tests/data/maps/*.csv --target 14 --hours 16
writes survey "$source/tests/data/maps/at40.csv"
writes sweep --from "$source/tests/data/sweep/lettuce.csv"

start_bench --layout 2,1,1 --seed 1
write_demo -e \
    's/currency = "EUR";/& power = { limit_w = 900.0; soft_limit_w = 800.0; soft_price_per_kwh = 0.1; };/'
echo 'alarm = { commands = ( { name = "told"; command = [ "/bin/true" ]; class = "info"; } ); };' >>"$work/lamp.conf"
writes rehearse --config "$work/lamp.conf" --from "$(date -u -d '3 days ago' +%F)" --days 2 --step 10 --journal "$work/journal.db"
start_daemon
is_lit() { "$build/bin/lampwarden" status --socket "$work/control" --json 2>/dev/null | grep -q '"closed":true'; }
wait_for 30 "light" is_lit
asks plan
writes why --socket "$work/control"
writes why --journal "$work/journal.db"
asks hold lettuce 30% --for 5min
asks status
asks resume lettuce
asks try lettuce_a_dim 40% --for 1s
asks sense
asks gain lettuce
asks reload
asks alarm
writes day --journal "$work/journal.db"
writes days --journal "$work/journal.db"
writes nights --journal "$work/journal.db"
writes events --journal "$work/journal.db"
echo "$(grep -c '^[a-z].*: ' "$fields") fields are described"
