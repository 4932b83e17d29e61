#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# What a browser gets: small enough for a slow line, text that any browser reads, files by names that the daemon serves,
# nothing that its content security policy would stop, nothing from another computer.
# Usage: check_page.sh BUILD_DIR SOURCE_DIR
set -eu
cd "$2/daemon/page"
most=250000 # bytes of all, with the charts' library
library=/usr/share/javascript/dygraphs/dygraph.min.js
bad=$(mktemp)
trap 'rm -f "$bad"' EXIT
say() { echo "daemon/page/$*" >>"$bad"; }

count=0
for file in *; do
    count=$((count + 1))
    case $file in
    index.html) ;;
    *[!a-z_]*.css | *[!a-z_]*.js | dygraph.*) say "$file: a name of a-z and _ is served, and dygraph is another's" ;;
    *.css | *.js) ;;
    *) say "$file: the daemon serves index.html, *.css and *.js" ;;
    esac
    test ${#file} -lt 32 || say "$file: at most 31 letters"
    iconv -f UTF-8 -t UTF-8 "$file" >/dev/null 2>&1 || say "$file: is no UTF-8"
    if LC_ALL=C grep -n "$(printf '[\001-\010\013-\037\177]')" "$file" >/dev/null; then say "$file: control characters"; fi
    # the name of SVG's language looks like an address
    sed 's|http://www\.w3\.org/[0-9]*/[a-z]*||g' "$file" | grep -nE '(https?:)?//[a-z0-9.-]+\.[a-z]{2,}' |
        sed "s|^|daemon/page/$file:|; s|\$|   <- of another computer|" >>"$bad" || true
    grep -nE '\b(eval|Function)\(|\.innerHTML|insertAdjacentHTML|document\.write' "$file" |
        sed "s|^|daemon/page/$file:|; s|\$|   <- text that becomes a program or a page|" >>"$bad" || true
done
grep -nE '<style|[[:space:]](style|on[a-z]+)=|<script[^>]*>[^<]' index.html |
    sed 's|^|daemon/page/index.html:|; s|$|   <- the policy stops it|' >>"$bad" || true
for mark in @SITE@ @MARK@ @SUMMARY@; do
    grep -q "$mark" index.html || say "index.html: no place for $mark"
done
test $count -le 23 || say ": $count files, at most 23"

bytes=$(cat ./* | wc -c)
words="without the charts' library, which is not installed"
if [ -f $library ]; then
    bytes=$((bytes + $(wc -c <$library)))
    words="with the charts' library"
fi
test "$bytes" -lt $most || say ": $bytes bytes $words, less than $most are allowed"
if [ -s "$bad" ]; then
    cat "$bad"
    exit 1
fi
echo "$count files, $bytes bytes $words"
