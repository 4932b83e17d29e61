#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The commissioning sheet of a space with a measured fixture and one that was not: text, one HTML file and JSON,
# what is missing said plainly, strange texts as texts, the same bytes twice, and bad words.
. "$(dirname "$0")/common.sh"
need /usr/bin/python3
lampwarden=$build/bin/lampwarden
maps=$source/tests/data/maps

says() { grep -qF -- "$1" "$work/out.log" || fail "'$1' is not in: $(cat "$work/out.log")"; }
lacks() { ! grep -qF -- "$1" "$work/out.log" || fail "'$1' is in: $(cat "$work/out.log")"; }

# The demonstration; its first fixture has a record of readings by hand, beside a ceiling found by a trip at 51 °C.
want 0 "$lampwarden" sweep --from "$source/tests/data/sweep/lettuce.csv" --output "$work/a.record"
sed -i 's/^measured = {/drive_ceiling = 0.82;\n&\n  ceiling_margin = 0.05; ceiling_heat_c = 51.0;/' "$work/a.record"
/usr/bin/python3 - "$source/etc/demo.conf" "$work/lamp.conf" <<'MAKE'
import sys
text = open(sys.argv[1]).read()
at = text.index('name = "lettuce_a";', text.index("fixtures = ("))
text = text[:at] + text[at:].replace("ppfd_full = 420.0;\n    drive_ceiling = 0.95;\n", '\n@include "a.record"\n', 1)
start = text.index("    curve = (", at)
text = text[:start] + text[text.index("    );\n", start) + 7:]
text = text.replace('name = "Propagation room"', r'name = "Room <script>alert(1)</script> & \"B\""')
open(sys.argv[2], "w").write(text)
MAKE

cd "$work" || exit 1
all="--map $maps/at60.csv $maps/at40.csv --height 60cm --ppf 1400 --volts 230 --power-factor 0.95 --breaker C16
    --inrush 30 --margin 4 --lead 30m --lead-current 2.1 --lead-mm2 1.5"
# shellcheck disable=SC2086 # words
want 0 "$lampwarden" sheet lettuce -c lamp.conf $all
for words in 'Commissioning sheet: lettuce, Room <script>alert(1)</script> & "B"' 'Date                    2026-11-20' \
    'Hanging height          60 cm above the canopy' 'minimum over mean 0.50' 'Best spots for one light sensor' \
    'Fixture lettuce_a' '2026-11-20, light by hand-held "17", heatsink 31 °C' 'Lowest level            15.4 % at drive 15.0 %' \
    'Drive ceiling           82 % (5 points below what held, tripped with the' 'by 0.23 % of full light at most, rms 0.11 %' \
    'held down from 58 °C, 10 % left at 70 °C, off at 80' 'lettuce_a_dim on line1 (modbus-tcp)' \
    'not measured: no date in its record' 'Price                   0.3 EUR per kWh' 'EUR/mol' 'true power factor 0.95 at full light' \
    'C16: at most 10 LED drivers of 1.37 A (10 by an inrush' '30 m of 1.5 mm² flexible at 2.1 A and 60 °C' \
    'lettuce_b: its dimming curve (lampwarden sweep lettuce lettuce_b)' 'licensed electrician' 'LEDs' 'Heatsinks burn' \
    'Night work' 'Measured by                        ______' 'Electrical work by (licensed)'; do
    says "$words"
done
test "$(wc -L <out.log)" -le 80 || fail "lines of more than 80 columns: $(wc -L <out.log)"

# shellcheck disable=SC2086
want 0 "$lampwarden" sheet lettuce -c lamp.conf $all --json
/usr/bin/python3 - out.log <<'CHECK' || fail "the JSON: $(cat out.log)"
import json, math, sys
sheet = json.load(open(sys.argv[1]))
near = lambda a, b: math.isclose(a, b, rel_tol=1e-6)
a, b = sheet["fixtures"]
assert sheet["date"] == a["commissioned"] == "2026-11-20" and b["commissioned"] is None
assert a["drive_ceiling"] == 0.82 and a["ceiling_heat_c"] == 51 and a["readings"] == 16 and b["rms_level"] is None
assert near(sheet["full_umol"], 387.4 + 420) and sheet["height_cm"] == 60 and len(sheet["maps"]) == 2
power = sheet["power"]
assert near(power["full_w"], 270 + 300) and near(power["heat_btu_per_h"], 570 * 3600 / 1055.05585262)
assert near(power["current_a"], 570 / 230 / 0.95) and [s["stage"] for s in power["stages"]] == ["rooting", "growing"]
rooting = power["stages"][0]
assert near(rooting["cost_day"], 0.30 * rooting["kwh_day"])
# there and back by the 13.3 ohm per km of 1.5 mm2 (IEC 60228, class 5, 20 °C) at 60 °C
assert near(sheet["lead_drop_v"], 2.1 * 60 * 0.0133 * (230 + 60) / 250)
assert sheet["breaker_drivers"] == 10 and any("lettuce_b" in m for m in sheet["not_measured"])
CHECK

# The page: whole, alone, without a script, and nothing of it changes by itself.
# shellcheck disable=SC2086
want 0 "$lampwarden" sheet lettuce -c lamp.conf $all --html one.html
test ! -s out.log || fail "the page is written, and something is said: $(cat out.log)"
# shellcheck disable=SC2086
want 0 "$lampwarden" sheet lettuce -c lamp.conf $all --html two.html --text
says 'Fixture lettuce_b'
cmp one.html two.html || fail "the same files make another page"
/usr/bin/python3 - one.html <<'CHECK' || fail "the page is not sound"
import html.parser, re, sys
text = open(sys.argv[1], encoding="utf-8").read()
class Page(html.parser.HTMLParser):
    void = {"meta", "br", "link", "img", "hr"}
    def __init__(self):
        super().__init__()
        self.open, self.ids, self.tags, self.words = [], [], [], []
    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.ids += [value for name, value in attrs if name == "id"]
        assert not any(name.startswith("on") for name, _ in attrs), attrs
        for name, value in attrs:
            assert name not in ("src", "href", "xlink:href") or value.startswith("#"), (tag, name, value)
        if tag not in self.void:
            self.open.append(tag)
    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in self.void:
            self.open.pop()
    def handle_endtag(self, tag):
        assert self.open.pop() == tag, tag
    def handle_data(self, data):
        self.words.append(data)
page = Page()
page.feed(text)
page.close()
assert not page.open and "script" not in page.tags and len(page.ids) == len(set(page.ids))
words = re.sub(r"\s+", " ", " ".join(page.words))
for needed in ('Room <script>alert(1)</script> & "B"', "Fixture lettuce_a", "Not measured", "Signatures", "licensed electrician",
               "15.4 % at drive 15.0 %", "lettuce_b: its dimming curve"):
    assert needed in words, needed
assert "@page" in text and "@media print" in text and "url(http" not in text and "@import" not in text
CHECK
if command -v gnuplot >/dev/null; then
    for words in 'Dimming curve of lettuce_a, 2026-11-20' "drive, % of the output's range" 'PPFD at the canopy, µmol m⁻² s⁻¹' \
        'reading less curve,' 'power at the wall, W' 'efficacy, µmol/J' 'level, % of full light' 'PPFD, µmol m⁻² s⁻¹' \
        'height above the canopy, cm' 'No readings are kept: residuals not measured'; do
        sed "s/&#39;/'/g" one.html | grep -qF -- "$words" || fail "'$words' is not on the page"
    done
    test "$(grep -c '<svg role="img" aria-label="' one.html)" = 4 || fail "not four pictures that say what they are"
else
    echo "gnuplot not found: pictures not tested (Debian: gnuplot-nox)"
fi
mkdir bare
# shellcheck disable=SC2086
PATH=$work/bare "$lampwarden" sheet lettuce -c lamp.conf $all --html plain.html >out.log 2>&1 ||
    fail "no sheet without gnuplot: $(cat out.log)"
grep -q 'No picture: gnuplot is not installed (Debian: gnuplot-nox)' plain.html || fail "nothing is said of the pictures"
grep -q 'Points of its curve' plain.html || fail "no table in a picture's place"

# Next to nothing is known.
want 0 "$lampwarden" sheet basil --config "$source/etc/demo.conf"
for words in 'Date                    not said (--date)' 'Hanging height          not measured' \
    'Supply                  not measured' 'Drive ceiling           95 % (by the configuration; not measured)' \
    'basil: when its light was measured' 'no light map' 'supply voltage and power factor'; do
    says "$words"
done
want 0 "$lampwarden" sheet basil --config "$source/etc/demo.conf" --date 2026-11-24 --area 1.2x0.6m
says 'Date                    2026-11-24'
grep -v 'full_watts' "$source/etc/demo.conf" | sed 's/; watts = [0-9.]*;/;/' >dim.conf
want 0 "$lampwarden" sheet basil -c dim.conf
says 'Not measured: fixture basil: its curve has no watts'
says 'basil: its power at the wall'
lacks 'nan'
rules='{ from = "22:00"; to = "06:00"; price_per_kwh = 0.22; }'
sed "s|price_per_kwh = 0.30;|& tariff = { rules = ( $rules ); };|" "$source/etc/demo.conf" >tariff.conf
want 0 "$lampwarden" sheet lettuce -c tariff.conf --area 1.2x0.6m --ppf 1400 --volts 230
says 'EUR/mol  at best'
says "by the site's tariff: 1 rule, else 0.3 EUR per kWh"
test "$(wc -L <out.log)" -le 80 || fail "lines of more than 80 columns: $(wc -L <out.log)"
grep -v 'price_per_kwh\|currency' "$source/etc/demo.conf" >free.conf
want 0 "$lampwarden" sheet basil -c free.conf
says 'Price                   not said (price_per_kwh of the site)'
says '  -  the price of energy, and what the light costs'
lacks '0.000'

# A curve of readings that were made once promises nothing of their scatter, nor of the droop.
printf '# date: 2026-11-20\ndrive,ppfd_umol\n0,0\n0.5,200\n1,400\n' >once.csv
mkdir once
want 0 "$lampwarden" sweep --from once.csv --output once/a.record
cp lamp.conf once
want 0 "$lampwarden" sheet lettuce -c once/lamp.conf
says 'Curve misses readings   not known: every drive was read once'
lacks 'less light than cold'

want 2 "$lampwarden" sheet
says 'it takes the name of a space'
want 1 "$lampwarden" sheet mint -c lamp.conf
says 'no space "mint" in lamp.conf (lettuce, basil, chrysanthemum)'
want 1 "$lampwarden" sheet lettuce -c lamp.conf --map "$maps/at60.csv" --height 70cm
says 'no map was taken at 70 cm'
want 2 "$lampwarden" sheet lettuce -c lamp.conf --date yesterday
want 2 "$lampwarden" sheet lettuce -c lamp.conf --lead 30m
says '--lead needs --lead-current and one of --lead-mm2 and --lead-awg'
want 2 "$lampwarden" sheet lettuce -c lamp.conf --breaker C16
says 'need --volts'
want 2 "$lampwarden" sheet lettuce -c lamp.conf --map "$maps/at60.csv" --area 1.2x0.6m
want 1 "$lampwarden" sheet lettuce -c lamp.conf --ppf 9000
says 'an error of data entry'
want 1 "$lampwarden" sheet lettuce -c lamp.conf --map none.csv
want 1 "$lampwarden" sheet lettuce -c lamp.conf --html none/sheet.html
want 3 "$lampwarden" sheet basil -c "$source/tests/data/bad/ceiling.conf"
echo "$name: passed"
