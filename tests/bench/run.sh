#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Installs what it needs, measures the figures and prints one line each: name value unit. Without names: all
# of them.
#
# One file a group, bench_*.sh beside this one, with a line "# figures: NAME…" in its head; a name that ends in *
# stands for all that begin so (names that are known only when it runs). It is called as
# `sh bench_GROUP.sh BUILD SOURCE`, builds what it needs with `cmake --build "$1" --target …`, prints its
# lines on stdout and anything else on stderr. Times depend on the machine: compare figures of one run.
#
# Usage: sh tests/bench/run.sh [NAME…]
# BENCH_BUILD: the folder of the release build, by default build-bench beside the sources.
# Exit status: 0 measured, 1 a group failed, 2 a name that nobody measures, or that came to no line.
set -eu
source=$(cd "$(dirname "$0")/../.." && pwd)
build=${BENCH_BUILD:-$source/build-bench}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT INT TERM

figures_of() { sed -n 's/^# figures: *//p' "$1"; }

# gives FILE NAME: whether the group gives the figure
gives() {
    figures_of "$1" | tr ' ' '\n' | awk -v name="$2" '
        /\*$/ { begin = substr($0, 1, length($0) - 1); if (index(name, begin) == 1) found = 1 }
        $0 == name { found = 1 }
        END { exit !found }'
}

known=$(for group in "$source"/tests/bench/bench_*.sh; do figures_of "$group"; done)
for name; do
    for group in "$source"/tests/bench/bench_*.sh; do
        gives "$group" "$name" && continue 2
    done
    echo "no figure \"$name\"; there are: $(printf '%s' "$known" | tr '\n' ' ')" >&2
    exit 2
done

# is_wanted FILE NAME…: whether the group gives one of the names
is_wanted() {
    group=$1
    shift
    test $# -gt 0 || return 0
    for name; do
        gives "$group" "$name" && return 0
    done
    return 1
}

# shellcheck source=etc/packages.sh
. "$source/etc/packages.sh"
# shellcheck disable=SC2086,SC2154  # lists of words, from packages.sh
install_packages $build_packages $driver_packages $page_packages libcmocka-dev gcovr procps strace curl >&2

cmake -S "$source" -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=RelWithDebInfo -DLAMPWARDEN_TESTS=ON >&2

# of NAME FILE: the lines of that name
of() {
    awk -v name="$1" '$1 == name || (name ~ /\*$/ && index($1, substr(name, 1, length(name) - 1)) == 1)' "$2"
}

status=0
: >"$work/all"
for file in "$source"/tests/bench/bench_*.sh; do
    is_wanted "$file" "$@" || continue
    if ! sh "$file" "$build" "$source" >"$work/lines"; then
        echo "$(basename "$file"): could not measure" >&2
        status=1
    fi
    cat "$work/lines" >>"$work/all"
    if test $# -eq 0; then
        cat "$work/lines"
    else
        for name; do
            of "$name" "$work/lines"
        done
    fi
done
for name; do
    test -n "$(of "$name" "$work/all")" && continue
    echo "\"$name\" came to no line" >&2
    test $status -ne 0 || status=2
done
exit $status
