#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Shell scripts: each is read by its own shell without running it, and by shellcheck.
# Usage: check_sh.sh BUILD_DIR SOURCE_DIR
set -eu
cd "$2"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
find etc tests systemd -name '*.sh' | sort >"$work/files"
test ! -f .ci/run || echo .ci/run >>"$work/files"
test "$(wc -l <"$work/files")" -gt 5 || { echo "too few scripts found in $2"; exit 1; }
while read -r file; do
    case $(head -n 1 "$file") in
    '#!/bin/sh') sh -n "$file" ;;
    '#!/usr/bin/env bash') bash -n "$file" ;;
    *) echo "$file: the first line names neither /bin/sh nor bash" ;;
    esac
done <"$work/files" >"$work/bad" 2>&1 || true
if [ -s "$work/bad" ]; then
    cat "$work/bad"
    exit 1
fi
command -v shellcheck >/dev/null || {
    echo "shellcheck not found (Debian: shellcheck): only the syntax was read"
    exit 77
}
xargs shellcheck -x -P SCRIPTDIR -f gcc <"$work/files"
echo "$(wc -l <"$work/files") scripts read by their shells and by shellcheck"
