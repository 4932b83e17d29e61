#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The README's configuration is sound, its verbs exist, and every verb has its row.
set -eu
build=$1
source=$2
program=$build/bin/lampwarden
[ -x "$program" ] || { echo "no $program"; exit 1; }
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

awk '/^site = \{/ { inside = 1 } inside && /^```/ { exit } inside' "$source/README.md" >"$work/readme.conf"
[ -s "$work/readme.conf" ] || { echo "README.md: no configuration found in it"; exit 1; }
"$program" check "$work/readme.conf" >"$work/out" 2>&1 || { cat "$work/out"; exit 1; }

"$program" --help | sed -n '/^verbs:/,/^options:/s/^  \([a-z][a-z]*\) .*/\1/p' | sort -u >"$work/verbs"
# shellcheck disable=SC2016 # the back quotes are Markdown's
sed -n 's/^| `lampwarden \([a-z]*\)[^|]*` |.*/\1/p' "$source/README.md" | sort -u >"$work/rows"
diff "$work/verbs" "$work/rows" >"$work/diff" || {
    echo "README.md and lampwarden --help differ in their verbs (< program, > README):"
    cat "$work/diff"
    exit 1
}
echo "$(wc -l <"$work/verbs") verbs, the example is sound"
