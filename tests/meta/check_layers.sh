#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Which folder may include which, one home per library, one place for clocks, exits only in programs.
# Usage: check_layers.sh BUILD_DIR SOURCE_DIR
set -eu
here=$(cd "$(dirname "$0")" && pwd)
cd "$2"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
find daemon drivers tests -name '*.[ch]' | sort >"$work/files"
test "$(wc -l <"$work/files")" -gt 20 || { echo "too few sources found in $2"; exit 1; }

# "path line header": quoted and angled includes apart.
xargs grep -nE '^[[:space:]]*#[[:space:]]*include' /dev/null <"$work/files" |
    sed -nE 's/^([^:]+):([0-9]+):[^"<]*(["<])([^">]+)[">].*/\1 \2 \3 \4/p' >"$work/includes"

# The arrows. core stands alone; base needs libc; drivers need base; run needs core, base and of the drivers
# only the narrow interface and the simulated bench, which the rehearsal drives in place of hardware; measure
# needs base and core; cli needs base, core's words and what run offers to readers, but nothing that moves an output.
awk '
function home(path) {
    if (path ~ /^daemon\/[^\/]+$/) return "main"
    if (path ~ /^daemon\//) { split(path, part, "/"); return part[2] }
    split(path, part, "/"); return part[1]
}
BEGIN {
    may["core"] = " core "
    may["base"] = " base "
    may["drivers"] = " drivers base "
    may["run"] = " run core base "
    may["measure"] = " measure core base "
    may["cli"] = " cli run measure core base "
    may["main"] = " main run core base "
    open["run"] = " driver.h bench_model.h bench_faults.h "
    shut["cli"] = " channels.h worker.h mailbox.h inputs.h outputs.h clocktrust.h "
    pure = " assert.h float.h inttypes.h limits.h math.h stdbool.h stddef.h stdint.h string.h "
}
FILENAME == ARGV[1] {
    if ($0 ~ /\.h$/) { name = $0; sub(/.*\//, "", name); where[name] = home($0) }
    next
}
{
    layer = home($1)
    if (layer == "tests") next
    if ($3 == "<") {
        if (layer == "core" && index(pure, " " $4 " ") == 0)
            print $1 ":" $2 ": core includes <" $4 ">; it may use pure C only"
        next
    }
    if (!($4 in where)) { print $1 ":" $2 ": \"" $4 "\" is no header of this project by its bare name"; next }
    target = where[$4]
    if (index(may[layer], " " target " ") == 0 && index(open[layer], " " $4 " ") == 0)
        print $1 ":" $2 ": " layer " may not include " $4 " of " target
    if (index(shut[layer], " " $4 " ") > 0)
        print $1 ":" $2 ": " layer " may not include " $4 ", which moves outputs"
}' "$work/files" "$work/includes" >"$work/bad"

# One home per library: header, then the only files that may include it.
while read -r header files; do
    awk -v header="$header" -v files="$files" \
        '$3 == "<" && $4 ~ header && $1 !~ /^tests\// && $1 !~ files {
            print $1 ":" $2 ": <" $4 "> has its only home in " files }' "$work/includes"
done >>"$work/bad" <<'HOMES'
^gpiod\.h$           ^drivers/gpio_v[12]\.c$
^(modbus/)?modbus    ^drivers/(modbus|bench_device[a-z_]*)\.[ch]$
^libconfig\.h$       ^daemon/run/config_read\.c$
^sqlite3\.h$         ^daemon/run/journal(_[a-z_]+)?\.[ch]$
^jansson\.h$         ^daemon/(run|cli)/
^microhttpd\.h$        ^daemon/run/page_server(_reply)?\.c$
^systemd/            ^daemon/run/
HOMES

# Clocks and exits, outside comments and strings.
grep -v '^tests/' "$work/files" | xargs awk -f "$here/code_only.awk" >"$work/code"
start='(^|[^A-Za-z0-9_.>])'
clocks='(clock_gettime|clock_nanosleep|clock|time|gettimeofday|timespec_get|nanosleep|usleep|sleep)'
grep -E ":[0-9]+:(.*[^A-Za-z0-9_.>])?${clocks}[[:space:]]*\(" "$work/code" |
    grep -v '^daemon/base/clock\.c:' | sed 's/$/   <- clocks are read in daemon\/base\/clock.c only/' \
    >>"$work/bad" || true
grep -E "${start}(exit|_exit|_Exit|quick_exit|abort)[[:space:]]*\(" "$work/code" |
    grep -vE '^(daemon/[a-z_]+\.c|daemon/cli/main\.c|drivers/[a-z_]+_main\.c):' |
    grep -vE '^daemon/run/config_guard\.c:[0-9]+: *_exit\(' | # ends only the child that it forked
    sed 's/$/   <- only a program'"'"'s own file ends the program/' >>"$work/bad" || true

if [ -s "$work/bad" ]; then
    cat "$work/bad"
    exit 1
fi
echo "$(wc -l <"$work/files") files, $(wc -l <"$work/includes") includes: layers kept"
