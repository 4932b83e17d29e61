#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The man pages are there, mandoc has nothing to say about them but style, and what the programs say about
# themselves comes out on them whole: no line was taken for a request of roff's. Every verb shows an example.
# Usage: check_man.sh BUILD_DIR SOURCE_DIR
set -eu
command -v mandoc >/dev/null || {
    echo "mandoc not found (Debian: mandoc)"
    exit 77
}
build=$(cd "$1" && pwd)
source=$(cd "$2" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
pages="lampwarden.1 lampwarden-bench.1 lampwarden.conf.5 lampwarden-json.5 lampwardend.8 lampwarden-make-safe.8"

for page in $pages; do
    test -s "$build/man/$page" || { echo "$build/man/$page is missing: build it"; exit 1; }
    mandoc -Tlint -Wwarning "$build/man/$page" >>"$work/bad" || true
    if command -v man >/dev/null; then
        man --warnings -l "$build/man/$page" 2>>"$work/bad" >/dev/null
    fi
    # As one line of single words, since paragraphs are filled anew.
    mandoc -Tutf8 -Owidth=200 "$build/man/$page" | col -b | tr -s ' \t\n' ' ' >"$work/$page"
done

# holds PAGE: every line of stdin is on the page, whatever white space is in it
holds() {
    tr '\t' ' ' | tr -s ' ' | sed 's/^ //; s/ $//' | awk -v page="$1" -v file="$work/$1" '
        BEGIN { getline text <file }
        NF { lines++; if (!index(text, $0)) print page ": lacks \"" $0 "\"" }
        END { if (lines < 10) print page ": next to nothing to look for" }' >>"$work/bad"
}
# Heads of a help have other places on the page; their words do not stand in the same line there.
help_of() { "$@" --help | grep '^  '; }

PATH=$build/bin:$PATH
help_of lampwardend | holds lampwardend.8
help_of lampwarden-bench | holds lampwarden-bench.1
help_of lampwarden >"$work/help"
awk '/^  [a-z]/ { print $1 }' "$work/help" | while read -r verb; do
    help_of lampwarden "$verb"
    lampwarden "$verb" --help | grep -q '^examples\{0,1\}[:,]' || echo "lampwarden $verb --help: has no example" >>"$work/bad"
done >"$work/verbs"
cat "$work/help" "$work/verbs" | holds lampwarden.1
sed -n 's/^[a-z][^: ]*: //p' "$source/etc/fields.txt" | holds lampwarden-json.5
lampwardend --document | sed '1,/^# ---/d' | grep -v '^# ---' | holds lampwarden.conf.5

if [ -s "$work/bad" ]; then
    sort -u "$work/bad"
    exit 1
fi
echo "$(echo "$pages" | wc -w) pages clean by mandoc, whole"
