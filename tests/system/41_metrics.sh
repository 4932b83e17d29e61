#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Metrics of the real daemon against promtool (Debian: prometheus): their form, the example alert rules, and that rules and
# README ask for nothing that does not exist. Counters begin again with the daemon, what is for life goes on.
. "$(dirname "$0")/common.sh"
need_slave
start_slave tcp
write_config tcp
start_daemon
cli() { "$build/bin/lampwarden" "$@" --socket "$work/control" 2>>"$work/cli.log"; }
value() { sed -n "s/^lampwarden_$1 //p" "$work/metrics"; } # of a sample without its labels' order in mind
lamp='{space="lettuce",fixture="bar"}'
look() { cli metrics >"$work/metrics"; }
is_lit() { look && test "$(value 'space_lit{space="lettuce"}')" = 1; }
draws() { look && value 'space_energy_joules_total{space="lettuce"}' | awk '{ exit !($1 > 100) }'; }

wait_for 30 "light" is_lit
wait_for 20 "a hundred joules" draws
test "$(value 'demonstration')" = 0 || fail "it says that it is a demonstration"
test "$(grep -c '^lampwarden_space_limiter{.*} 1$' "$work/metrics")" = 1 || fail "not exactly one limiter rules"
test "$(value "fixture_switch_operations_total$lamp")" = 1 || fail "$(value "fixture_switch_operations_total$lamp") operations"
life=$(value "fixture_lifetime_switch_operations$lamp")

# --- into a file, for node_exporter
cli metrics --output "$work/lampwarden.prom" || fail "no file"
test "$(stat -c %a "$work/lampwarden.prom")" = 644 || fail "the collector may not read it"
grep -q '^lampwarden_ready 1$' "$work/lampwarden.prom" || fail "the file is not whole"
ls "$work"/*.prom.* >/dev/null 2>&1 && fail "something is left beside the file"
cli metrics --output "$work/no/folder" && fail "a folder that does not exist was no error"

# --- the rules and the README ask for what is there
sed -n 's/^# HELP \(lampwarden_[a-z_]*\) .*/\1/p' "$work/metrics" | sort -u >"$work/names"
for file in "$source/etc/lampwarden.rules.yml" "$source/README.md"; do
    grep -oE 'lampwarden_[a-z_]+' "$file" | sort -u | comm -23 - "$work/names" >"$work/unknown"
    test ! -s "$work/unknown" || fail "$(basename "$file") asks for $(tr '\n' ' ' <"$work/unknown")"
done

# --- counters begin again, what is for life goes on
stop_daemon TERM || fail "the stop ended with code $?"
cp "$work/metrics" "$work/before"
start_daemon
counts() { look && test -n "$(value 'space_energy_joules_total{space="lettuce"}')"; }
wait_for 10 "counters" counts
for counter in 'space_energy_joules_total{space="lettuce"}' 'space_lamp_moles_per_square_meter_total{space="lettuce"}'; do
    sed -n "s/^lampwarden_$counter //p" "$work/before" >"$work/was"
    value "$counter" | paste - "$work/was" | awk '{ exit !($1 < $2) }' || fail "$counter did not begin again"
done
test "$(value "fixture_switch_operations_total$lamp")" = 0 || fail "operations did not begin again"
test "$(value "fixture_lifetime_switch_operations$lamp")" -ge "$life" || fail "operations of a lifetime did not go on"

command -v promtool >/dev/null || skip "promtool is missing (Debian: prometheus); all else passed"
promtool check metrics <"$work/metrics" >"$work/promtool.log" 2>&1 || fail "promtool check metrics"
test ! -s "$work/promtool.log" || fail "promtool check metrics has something to say"
cp "$source/etc/lampwarden.rules.yml" "$source/tests/data/rules_test.yml" "$work"
promtool check rules "$work/lampwarden.rules.yml" >"$work/promtool.log" 2>&1 || fail "promtool check rules"
(cd "$work" && promtool test rules rules_test.yml) >"$work/promtool.log" 2>&1 || fail "promtool test rules"
sed 's/phase="night"/phase="day"/' "$source/etc/lampwarden.rules.yml" >"$work/lampwarden.rules.yml"
(cd "$work" && promtool test rules rules_test.yml) >/dev/null 2>&1 && fail "the tests of the rules find no mistake"
echo "$name: passed, $(wc -l <"$work/names") families, $(grep -c -- '- alert:' "$source/etc/lampwarden.rules.yml") rules"
