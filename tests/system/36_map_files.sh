#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Files of light maps that are wrong: one clear line each, with file and line; and one of a million rows, which is
# fine, and says where its last row is wrong when it is.
. "$(dirname "$0")/common.sh"
lampwarden=$build/bin/lampwarden

# refused NAME WORDS: survey ends with 1 and says one line, which has these words; nothing on stdout.
refused() {
    status=0
    timeout 60 "$lampwarden" survey "$work/$1.csv" >"$work/out.log" 2>"$work/err.log" || status=$?
    test "$status" = 1 || fail "$1: exit code $status: $(cat "$work/out.log" "$work/err.log")"
    test ! -s "$work/out.log" || fail "$1: printed $(head -n 3 "$work/out.log")"
    test "$(wc -l <"$work/err.log")" = 1 || fail "$1: more than one line: $(cat "$work/err.log")"
    grep -qF -- "$2" "$work/err.log" || fail "$1: '$2' is not in: $(cat "$work/err.log")"
}
# map NAME COLUMNS ROW...: a map at 60 cm
map() {
    file=$work/$1.csv
    printf '# height_cm: 60\n%s\n' "$2" >"$file"
    shift 2
    for row; do echo "$row"; done >>"$file"
}

map mixed x_cm,y_in,ppfd_umol 0,0,100 10,0,100 0,10,100 10,10,100
refused mixed 'mixed.csv:2: centimetres and inches in one map'
map both x_cm,y_cm,x_in,ppfd_umol 0,0,0,100 10,0,4,100 0,10,0,100 10,10,4,100
refused both 'both.csv:2: centimetres and inches in one map'
map twice x_cm,y_cm,ppfd_umol 0,0,100 10,0,100 0,10,100 10,10,100 10,10.04,160
refused twice 'readings of 100 and 160 µmol m⁻² s⁻¹ at one place (10, 10 cm)'
# A name in ISO 8859-1, as spreadsheets write it, is shown as far as it can be.
printf '# fixture: L\344mp\n# height_cm: 60\nx_cm,y_cm,ppfd_umol\n0,0,100\n10,0,100\n0,10,100\n10,10,101\n' >"$work/latin.csv"
latin=$(printf '%s/l\344mp.csv' "$work")
mv "$work/latin.csv" "$latin"
timeout 60 "$lampwarden" survey "$latin" --json >"$work/out.log" || fail "latin: no figures"
grep -qF '"fixture":"L?mp"' "$work/out.log" || fail "latin: $(cat "$work/out.log")"
map nan x_cm,y_cm,ppfd_umol 0,0,100 10,0,NaN 0,10,100 10,10,100
refused nan 'nan.csv:4: ppfd_umol: "NaN" is not a number'
map infinite x_cm,y_cm,ppfd_umol 0,0,100 inf,0,100 0,10,100 10,10,100
refused infinite 'infinite.csv:4: x_cm: "inf" is not a number'
map negative x_cm,y_cm,ppfd_umol 0,0,100 10,0,100 0,10,-1 10,10,100
refused negative 'negative.csv:5: ppfd_umol of -1 is out of range (0 … 5000, µmol m⁻² s⁻¹)'
map lux x_cm,y_cm,ppfd_umol 0,0,20000 10,0,21000 0,10,20000 10,10,22000
refused lux 'lux.csv:3: ppfd_umol of 20000 is out of range'
map missing x_cm,y_cm 0,0 10,0 0,10 10,10
refused missing 'missing.csv:2: there is no column ppfd_umol'
map short x_cm,y_cm,ppfd_umol 0,0,100 10,0 0,10,100 10,10,100
refused short 'short.csv:4: 2 cells; line 2 names 3 columns'
map long x_cm,y_cm,ppfd_umol 0,0,100 10,0,100,7 0,10,100 10,10,100
refused long 'long.csv:4: more than 3 cells; line 2 names 3 columns'
map comma x_cm,y_cm,ppfd_umol '0,0,1,5' 10,0,100 0,10,100 10,10,100
refused comma 'comma.csv:3: more than 3 cells'
map semicolon 'x_cm;y_cm;ppfd_umol' '0;0;100'
refused semicolon 'semicolon.csv:2: columns are parted by commas here, with a point in numbers'
map few x_cm,y_cm,ppfd_umol 0,0,100 10,0,100 0,10,100 10,10,
refused few 'few.csv: 3 points; a map has 4 at least'
map bare x_cm,y_cm,ppfd_umol
refused bare 'bare.csv: there is no row in it'
: >"$work/empty.csv"
refused empty 'empty.csv: there is no row in it'
printf '# height_cm: 60\nx_cm,y_cm,ppfd_umol\n0,0,1\0000\n' >"$work/zero.csv"
refused zero 'zero.csv: not a text: there is a zero byte in it'
head -c 20000 "$lampwarden" | tr '\000' 'x' >"$work/noise.csv"
refused noise 'noise.csv'
refused nothing 'nothing.csv: No such file or directory'

awk 'BEGIN { print "# height_cm: 60\nx_cm,y_cm,ppfd_umol"
    for (row = 0; row < 1000; row++) for (column = 0; column < 1000; column++)
        print column "," row "," 400 + column % 7 + row % 11 }' >"$work/million.csv"
timeout 100 "$lampwarden" survey "$work/million.csv" >"$work/out.log" 2>&1 || fail "a million rows: $(cat "$work/out.log")"
grep -q '^      60  1000000  408.0 ±  0.0' "$work/out.log" || fail "a million points: $(head -n 5 "$work/out.log")"
sed '$s/,[0-9]*$/,-5/' "$work/million.csv" >"$work/last.csv"
refused last 'last.csv:1000002: ppfd_umol of -5 is out of range'
