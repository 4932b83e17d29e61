#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# No unfinished business, no path of somebody's machine, a licence line on top of every file that can
# carry one, no tabs in C, no carriage returns.
# Usage: check_words.sh BUILD_DIR SOURCE_DIR
set -eu
cd "$2"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
# Texts of the project; data files and the licence are not ours to word.
find daemon drivers tests etc systemd -type f ! -path 'tests/data/*' ! -path '*/__pycache__/*' >"$work/files"
find . -maxdepth 1 -type f \( -name '*.md' -o -name '*.json' -o -name CMakeLists.txt -o -name '.clang-*' \
    -o -name .editorconfig -o -name .gitignore \) |
    sed 's|^\./||' >>"$work/files"
test ! -d .ci || find .ci -type f >>"$work/files"
sort -o "$work/files" "$work/files"
test "$(wc -l <"$work/files")" -gt 20 || { echo "too few files found in $2"; exit 1; }

# Words are put together here so that this script does not find itself.
unfinished="(^|[^A-Za-z])(TO""DO|FIX""ME|X""XX)([^A-Za-z]|\$)"
machine='(^|[^A-Za-z0-9_.])/(wo''rk|ro''ot|ho''me)/'
xargs grep -nIE "$unfinished" /dev/null <"$work/files" | sed 's/$/   <- unfinished/' >"$work/bad" || true
xargs grep -nIE "$machine" /dev/null <"$work/files" | sed 's/$/   <- path of a machine/' >>"$work/bad" || true

# The licence line: first, or second behind a "#!" line.
# JSON knows no comments, and documents are read by people: LICENSE speaks for both.
grep -vE '\.(md|json)$' "$work/files" >"$work/sources"
while read -r file; do
    case $file in # modules of the kernel take the kernel's licence
    tests/kernel/modules/*) sed -n 1p "$file" | grep -q 'SPDX-License-Identifier: GPL-2\.0' && continue ;;
    esac
    sed -n '1,2p' "$file" | grep -q 'SPDX-License-Identifier: Apache-2\.0' ||
        echo "$file: no licence line on top"
done <"$work/sources" >>"$work/bad"

tab=$(printf '\t')
return=$(printf '\r')
grep '\.[ch]$' "$work/files" | xargs grep -nI "$tab" /dev/null | sed 's/$/   <- tab/' >>"$work/bad" || true
xargs grep -nI "$return" /dev/null <"$work/files" | sed 's/$/   <- carriage return/' >>"$work/bad" || true

if [ -s "$work/bad" ]; then
    cat "$work/bad"
    exit 1
fi
echo "$(wc -l <"$work/files") files, $(wc -l <"$work/sources") of them sources: clean"
