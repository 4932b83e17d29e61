#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Every C file is as clang-format writes it, so that no change is about white space.
# Mend with: clang-format -i FILE
# Usage: check_format.sh BUILD_DIR SOURCE_DIR
set -eu
cd "$2"
command -v clang-format >/dev/null || {
    echo "clang-format not found (Debian: clang-format)"
    exit 77
}
# Another release lays some lines out in another way: it would quarrel with the one the project uses.
wanted=14
release=$(clang-format --version | sed -nE 's/.*version ([0-9]+)\..*/\1/p')
test "$release" = $wanted || {
    echo "clang-format $release found, the project's layout is that of release $wanted"
    exit 77
}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
find daemon drivers tests -name '*.[ch]' | sort >"$work/files"
test "$(wc -l <"$work/files")" -gt 20 || { echo "too few sources found in $2"; exit 1; }
xargs clang-format --dry-run -Werror --ferror-limit=1 <"$work/files" 2>"$work/bad" || {
    grep ' error: ' "$work/bad"
    echo "clang-format -i FILE mends them"
    exit 1
}
echo "$(wc -l <"$work/files") files laid out by clang-format"
