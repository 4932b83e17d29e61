#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The page for a browser: what it answers, and to whom; browsers that mean no good while the light burns on and no
# tick is missed; another port, a password, a port in use by a reload; a stop beside stalled browsers.
. "$(dirname "$0")/common.sh"
need /usr/bin/python3 curl

port=$(free_port)
other=$(free_port)

# write_page LINES: a lamp of the simulated bench in its day, with these lines in the group page.
write_page() {
    cat >"$work/lamp.conf" <<CONFIG
site = { name = "Propagation <b>room</b> & 'co'"; utc_offset = "+00:00"; };
buses = ( { name = "bench"; driver = "bench"; layout = "1"; every_s = 0.5; } );
sensors = ( { name = "heatsink"; bus = "bench"; kind = "temperature"; } );
outputs = ( { name = "dimmer"; bus = "bench"; kind = "dim"; }, { name = "contact"; bus = "bench"; kind = "switch"; } );
fixtures = ( { name = "bar"; dim = "dimmer"; switch = "contact"; ppfd_full = 400.0; heat_sensors = [ "heatsink" ];
  curve = ( { drive = 0.1; level = 0.1; watts = 31.0; }, { drive = 1.0; level = 1.0; watts = 300.0; } );
  switching = { min_on_s = 2.0; min_off_s = 1.0; settle_s = 1.0; }; } );
stages = ( { name = "leaf"; days = 0; lights_on = "$(time_of_day '2 hours ago')"; day_length_h = 12.0;
  target_mol = 8.0; dawn_min = 0.0; dusk_min = 0.0; } );
spaces = ( { name = "lettuce"; fixtures = [ "bar" ]; stages = [ "leaf" ]; clock_policy = "carry-on";
  light_day_start = "$(time_of_day '3 hours ago')"; start = "$(date -u -d '3 days ago' +%Y-%m-%d)"; } );
journal = { path = "$work/journal.db"; commit_s = 1.0; };
control = { socket = "$work/control"; };
page = { $1 };
CONFIG
}

answers() { curl -s -o /dev/null -m 2 "http://127.0.0.1:$1/status.json"; }
code_of() { curl -s -o /dev/null -m 2 -w '%{http_code}' "$@"; }
has_minute() { curl -s -m 2 "http://127.0.0.1:$port/minutes.json?space=lettuce" | grep -q '"rows":'; }
is_lit() { near "$(status level)" 1 0.9 && test "$(status limiter)" != night; }
reload() {
    write_page "$1"
    kill -HUP "$daemon"
}
milliseconds() { date +%s%3N; }

write_page "port = $port; host_names = \"lamps.example\";"
start_daemon
if grep -q 'built without libmicrohttpd' "$work/daemon.log"; then
    skip "built without libmicrohttpd"
fi
wait_for 10 "the page" answers "$port"
wait_for 10 "the day's record" has_minute
memory_before=$(awk '/^VmRSS/ { print $2 }' "/proc/$daemon/status")
/usr/bin/python3 "$source/tests/support/hostile_browser.py" suite "$port" >"$work/hostile.log" 2>&1 ||
    fail "a hostile browser was not met as it should be"
gone "$daemon" && fail "the daemon died of a browser"
is_lit || fail "no light beside hostile browsers"
test "$(status overruns)" = 0 || fail "$(status overruns) ticks were missed"
memory_after=$(awk '/^VmRSS/ { print $2 }' "/proc/$daemon/status")
# the sanitizer keeps what was freed for a while
test $((memory_after - memory_before)) -lt 80000 || fail "memory rose by $((memory_after - memory_before)) KiB"

# A reload moves it, asks for a password, meets a port in use, ends it.
printf 'grower:green\n' >"$work/password"
chmod 0640 "$work/password"
reload "port = $other; password_file = \"$work/password\";"
wait_for 5 "the page at its new port" answers "$other"
answers "$port" && fail "the old port still answers"
test "$(code_of "http://127.0.0.1:$other/status.json")" = 401 || fail "no password was asked for"
test "$(code_of -u grower:gren "http://127.0.0.1:$other/status.json")" = 401 || fail "a wrong password was taken"
test "$(code_of -u grower:green "http://127.0.0.1:$other/status.json")" = 200 || fail "the right password was not taken"
for _ in 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19; do
    code=$(code_of -u grower:guess "http://127.0.0.1:$other/")
done
test "$code" = 401 || fail "the twentieth guess got $code"
test "$(code_of -u grower:green "http://127.0.0.1:$other/")" = 429 || fail "guessing goes on"
chmod 0644 "$work/password"
reload "port = $port; password_file = \"$work/password\";"
wait_for 5 "a sentence on the password file" grep -q 'its mode is 0644, others may read or change it' "$work/daemon.log"
answers "$port" && fail "it listens without the password that was asked for"
/usr/bin/python3 -m http.server --bind 127.0.0.1 "$port" >"$work/squatter.log" 2>&1 &
pids="$pids $!"
wait_for 5 "another program at the port" answers "$port"
reload "port = $port;"
wait_for 5 "a sentence on the port" grep -q "port $port: another program listens there; the light goes on" "$work/daemon.log"
reload "port = $other;"
wait_for 5 "the page" answers "$other"
is_lit || fail "the light went out over the page"
lines_with() { grep -c "$1" "$work/daemon.log"; }
reloads=$(lines_with 'configuration was reloaded')
listened=$(lines_with 'page: listening')
reload "port = $other;"
reloaded_again() { test "$(lines_with 'configuration was reloaded')" -gt "$reloads"; }
wait_for 5 "another reload" reloaded_again
reload "address = \"0.0.0.0\"; port = $other;"
wait_for 5 "the refusal" grep -q 'can be reached from other computers' "$work/daemon.log"
answers "$other" || fail "a refused configuration ended the page"
test "$(lines_with 'page: listening')" = "$listened" || fail "a reload that changes nothing disturbed the page"

# Eight half-open connections do not hold up the stop.
/usr/bin/python3 "$source/tests/support/hostile_browser.py" stall "$other" >"$work/stall.log" 2>&1 &
pids="$pids $!"
wait_for 5 "stalled browsers" grep -q READY "$work/stall.log"
began=$(milliseconds)
kill -TERM "$daemon"
wait_for 5 "the end" gone "$daemon"
took=$(($(milliseconds) - began))
test "$took" -lt 2000 || fail "the stop took $took ms beside stalled browsers"
wait "$daemon" || fail "the stop ended with code $?"
grep -q 'Sanitizer\|left behind' "$work/daemon.log" && fail "it ended badly"
echo "stop beside 8 stalled browsers: $took ms; $(grep '^ended' "$work/hostile.log")"
echo "$name: passed"
