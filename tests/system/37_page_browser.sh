#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The page in a real browser: every state, size and scheme on made-up moments, then a running daemon with the bench.
# LAMPWARDEN_PICTURES=FOLDER keeps pictures of what was seen.
# Usage: 37_page_browser.sh BUILD_DIR SOURCE_DIR
. "$(dirname "$0")/common.sh"
need chromium chromedriver curl /usr/bin/python3
/usr/bin/python3 -c 'import selenium' 2>/dev/null || skip "selenium is missing (Debian: python3-selenium)"
test -f /usr/share/javascript/dygraphs/dygraph.min.js || skip "the charts' library is missing (Debian: libjs-dygraphs)"
"$build/bin/lampwardend" --document | grep -q '^page = ' || skip "built without the page"

# axe-core looks for what keeps people out; it is kept in the build folder.
axe=$build/axe/node_modules/axe-core/axe.min.js
if [ ! -f "$axe" ]; then
    mkdir -p "$build/axe"
    { command -v npm >/dev/null && timeout 30 npm install --prefix "$build/axe" --no-save --no-audit --no-fund axe-core@4 \
        >"$work/npm.log" 2>&1; } || axe=
fi
[ -n "$axe" ] || echo "$name: without axe-core, which npm did not fetch: accessibility is judged by our own checks alone"

# The daemon itself, lit since an hour.
start_bench --layout 2,1,1 --seed 1
page=$(free_port)
write_demo -e "s/port = 8414/port = $page/"
"$build/bin/lampwarden" rehearse --config "$work/lamp.conf" --from "$(date -u -d '3 days ago' +%F)" --days 2 --step 60 \
    --journal "$work/journal.db" --json >/dev/null || fail "the rehearsal of the days before"
start_daemon
wait_for 20 "the page" curl -sf -o "$work/first.html" "http://127.0.0.1:$page/"

# Made-up moments of days with heat in the past, heat now, and a sensor that was silent.
cat >"$work/faults" <<'FAULTS'
230h 6h heat-step 3 30
560h 5h heat-step 3 30
564h 3h ppfd-silent 0
FAULTS
night="{ from = \"22:00\"; to = \"06:00\"; price_per_kwh = 0.22; }"
evening="{ from = \"17:00\"; to = \"20:00\"; price_per_kwh = 0.41; }"
sed "s/currency = \"EUR\";/& tariff = { rules = ( $night, $evening ); };/" "$source/etc/demo.conf" >"$work/demo.conf"
"$build/bin/lampwarden" rehearse --config "$work/demo.conf" --from 2026-11-02 --days 24 --step 60 --faults "$work/faults" \
    --journal "$work/past.db" --json >/dev/null || fail "the rehearsal"
/usr/bin/python3 "$source/tests/browser/stand_in.py" --journal "$work/past.db" --page "$source/daemon/page" --day 2026-11-25 \
    --every 0.3 >"$work/stand_in.out" 2>"$work/stand_in.log" &
pids="$pids $!"
wait_for 10 "the stand-in" grep -q READY "$work/stand_in.out"
made_up=http://127.0.0.1:$(sed -n 's/READY //p' "$work/stand_in.out")

# What is made up has no field that the programs do not write: a page that asks for another one shows nothing here either.
for verb in status plan day days nights why; do
    curl -sf -o "$work/$verb.json" "$made_up/$verb.json?space=basil&time=2026-11-25T12:00" || fail "the stand-in gives no $verb"
    /usr/bin/python3 "$source/tests/support/json_fields.py" "$source/etc/fields.txt" "$verb" "$work/$verb.json" ||
        fail "the stand-in makes up a field"
done
/usr/bin/python3 "$source/tests/browser/check_states.py" "$made_up" \
    ${axe:+"$axe"} || fail "the states of the page"

/usr/bin/python3 "$source/tests/browser/check_live.py" "http://127.0.0.1:$page" "$bench" || fail "the daemon's page"
stop_daemon TERM || fail "the daemon's exit code $?"
echo "$name: every state in two sizes and two schemes; the daemon's own page moves, and its alarm comes up by itself"
