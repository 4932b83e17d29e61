#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Small files, short functions, few parameters. An exception stands below with its reason.
# Usage: check_sizes.sh BUILD_DIR SOURCE_DIR
set -eu
cd "$2"
ctags --version 2>/dev/null | grep -q 'Universal Ctags' || {
    echo "universal-ctags not found (Debian: universal-ctags)"
    exit 77
}
file_max=400 test_file_max=600 function_max=60 parameters_max=6
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# path (a file) or path:function; then the reason.
cat >"$work/exceptions" <<'EXCEPTIONS'
daemon/run/page_server.c:on_request libmicrohttpd calls it with eight
EXCEPTIONS

find daemon drivers tests -name '*.[ch]' | sort >"$work/files"
test "$(wc -l <"$work/files")" -gt 20 || { echo "too few sources found in $2"; exit 1; }

while read -r file; do
    lines=$(wc -l <"$file")
    case $file in
    tests/*) most=$test_file_max ;;
    *) most=$file_max ;;
    esac
    test "$lines" -le "$most" || echo "$file $lines lines, at most $most"
done <"$work/files" >"$work/bad"

ctags -L "$work/files" --languages=C --langmap=C:.c.h --kinds-C=f --fields=neS --sort=no -o - |
    awk -F '\t' -v lines_max=$function_max -v parameters_max=$parameters_max '
function parameters(signature,    i, one, depth, count) {
    if (signature ~ /^\( *(void)? *\)$/) return 0
    count = 1
    for (i = 1; i <= length(signature); i++) {
        one = substr(signature, i, 1)
        if (one == "(") depth++
        else if (one == ")") depth--
        else if (one == "," && depth == 1) count++
    }
    return count
}
{
    line = end = 0
    signature = "()"
    for (i = 4; i <= NF; i++) {
        if ($i ~ /^line:/) line = substr($i, 6)
        if ($i ~ /^end:/) end = substr($i, 5)
        if ($i ~ /^signature:/) signature = substr($i, 11)
    }
    functions++
    if (end - line + 1 > lines_max)
        print $2 ":" $1 " " end - line + 1 " lines, at most " lines_max
    if (parameters(signature) > parameters_max)
        print $2 ":" $1 " " parameters(signature) " parameters, at most " parameters_max
}
END { if (functions < 20) print "ctags found next to no functions" }' >>"$work/bad"

# Exceptions cover their own finding; one that covers nothing is a leftover.
awk 'FILENAME == ARGV[1] { reason[$1] = 1; next }
$1 in reason { used[$1] = 1; next }
{ print }
END { for (one in reason) if (!(one in used)) print one " is an exception for nothing: remove it" }' \
    "$work/exceptions" "$work/bad" >"$work/left"
if [ -s "$work/left" ]; then
    cat "$work/left"
    exit 1
fi
echo "$(wc -l <"$work/files") files within their sizes"
