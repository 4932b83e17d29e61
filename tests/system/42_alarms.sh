#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Commands for events that hang, fork, flood, fail or are not there, beside the light of the real daemon: it ticks on, says
# once what is wrong, counts the rest, and ends in time.
. "$(dirname "$0")/common.sh"
need_slave
start_slave tcp
write_config tcp

script() { # NAME LINES
    printf '#!/bin/sh\n%s\n' "$2" >"$work/$1"
    chmod 755 "$work/$1"
}
script good "{ cat; echo \"\$LAMPWARDEN_EVENT \$LAMPWARDEN_CLASS\"; } >> $work/good.said"
script hang 'trap "" TERM; while :; do sleep 600 & wait; done'
script flood 'while :; do echo all is wrong >&2; done'
script fails 'echo "no such host" >&2; exit 1'
echo 'not a program' >"$work/plain"

command_for() { # NAME FILE CLASS LIMIT
    echo "{ name = \"$1\"; command = [ \"$work/$2\", \"{text}\" ]; class = \"$3\"; time_limit_s = $4; }"
}
cp "$work/lamp.conf" "$work/plain.conf"
{
    cat "$work/plain.conf"
    echo "alarm = { commands = ("
    echo "$(command_for mail good info 10.0), $(command_for hangs hang info 1.0), $(command_for floods flood info 1.0),"
    echo "$(command_for fails fails info 5.0), $(command_for plain plain info 5.0), $(command_for gone nobody info 5.0)"
    echo "); };"
} >"$work/lamp.conf"

cli() { "$build/bin/lampwarden" "$@" --socket "$work/control" 2>>"$work/cli.log"; }
"$build/bin/lampwarden" check "$work/lamp.conf" >"$work/check.log" 2>&1 || fail "refused: $(cat "$work/check.log")"
grep -q 'nobody does not exist here' "$work/check.log" || fail "check does not warn of a missing program"
grep -q 'plain cannot be run here' "$work/check.log" || fail "check does not warn of a file that is no program"
sed 's/class = "info"/class = "info"; kinds = [ "heattrip" ]/' "$work/lamp.conf" >"$work/kinds.conf"
"$build/bin/lampwarden" check "$work/kinds.conf" >"$work/check.log" 2>&1 && fail "an event that does not exist is accepted"
grep -q 'there is no event "heattrip", did you mean "heat-trip"?' "$work/check.log" || fail "$(cat "$work/check.log")"
sed "s|\"$work/good\"|\"mail\"|" "$work/lamp.conf" >"$work/path.conf"
"$build/bin/lampwarden" check "$work/path.conf" >"$work/check.log" 2>&1 && fail "a program without a path is accepted"
grep -q 'is no whole path' "$work/check.log" || fail "$(cat "$work/check.log")"

start_daemon
for signal in HUP HUP HUP; do kill "-$signal" "$daemon"; done
heard() { grep -q 'reload info' "$work/good.said" && grep -q 'started info' "$work/good.said"; }
wait_for 20 "the good command" heard
grep -q '^info: Propagation room (invented), ' "$work/good.said" || fail "no sentence: $(cat "$work/good.said")"
tried() { cli alarm --json | grep -q '"late":[1-9].*"late":[1-9]' && status faults | grep -q 'alarm gone does not work'; }
wait_for 20 "two commands that are killed" tried

# --- the operator tries them
cli alarm --test mail | grep -q '^mail: its command worked' || fail "the test of a good command"
grep -q 'test alarm' "$work/good.said" || fail "the test said nothing"
cli alarm --test fails >"$work/out" && fail "the test of a bad command passed"
grep -q 'did not work: exit code 1: no such host' "$work/out" || fail "$(cat "$work/out")"
cli alarm --test plain >"$work/out" && fail "the test of what is no program passed"
cli alarm --test nobody && fail "the test of an unknown alarm passed"
cli alarm | grep -q '^hangs .*[1-9][0-9]* failed' || fail "the list: $(cli alarm)"
counted() { cli metrics >"$work/metrics" && grep -q '^lampwarden_alarm_runs_total{alarm="hangs",outcome="late"} [1-9]' "$work/metrics"; }
wait_for 5 "late runs in the metrics, which are of the last tick" counted
grep -q '^lampwarden_alarm_failing{alarm="fails"} 1' "$work/metrics" || fail "not in the metrics"
grep -q '^lampwarden_alarm_failing{alarm="mail"} 0' "$work/metrics" || fail "a good one fails in the metrics"
test "$(grep -c 'alarm fails: its command did not work' "$work/daemon.log")" = 1 || fail "not said once"

# --- meanwhile: every tick in its second
test "$(status overruns)" = 0 || fail "$(status overruns) ticks were missed"

# --- a reload without them, and back; then a stop while one hangs
cp "$work/lamp.conf" "$work/with.conf"
cp "$work/plain.conf" "$work/lamp.conf"
cli reload >/dev/null || fail "the reload without commands"
cli alarm | grep -q 'nobody outside is told' || fail "the list after a reload without commands: $(cli alarm)"
sed 's/time_limit_s = 1.0/time_limit_s = 600.0/' "$work/with.conf" >"$work/lamp.conf"
cli reload >/dev/null || fail "the reload with commands"
begun=$(date +%s)
stop_daemon TERM || fail "the stop ended with code $?"
test $(($(date +%s) - begun)) -le 8 || fail "the stop took $(($(date +%s) - begun)) s"
left() { pgrep -f "$work/(hang|flood)" >/dev/null; }
none_is_left() { ! left; }
wait_for 5 "the end of the commands" none_is_left
echo "$name: passed"
