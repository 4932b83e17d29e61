#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The log for paper and for spreadsheets: lampwarden day --html, --plot, days, nights. A finished day gives the same
# bytes, now and after more days; texts of a journal are escaped; charts have their labels and units; every trouble is
# a line. The page is read by Python's html.parser, the table by its csv module, neither ours.
# Usage: 38_log_pages.sh BUILD_DIR SOURCE_DIR
set -eu
lampwarden=$1/bin/lampwarden
config=$2/etc/demo.conf
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT INT TERM
journal=$work/journal.db
export LC_ALL=C.UTF-8

fail() { echo "$*"; exit 1; }

# want CODE COMMAND…: exit status, stdout in $work/out, stderr in $work/err
want() {
    code=$1
    shift
    status=0
    "$@" >"$work/out" 2>"$work/err" </dev/null || status=$?
    test $status -eq "$code" || fail "$*: exit status $status, expected $code: $(cat "$work/err")"
    test "$code" = 0 || test -s "$work/err" || fail "$*: no sentence on stderr"
}
has() { grep -qF -- "$1" "$work/$2" || fail "'$1' is not in: $(head -c 3000 "$work/$2")"; }
hasnt() { ! grep -qF -- "$1" "$work/$2" || fail "'$1' is in $2"; }

printf '9h 6h heat-step 3 45\n' >"$work/faults"
rehearse() {
    want 0 "$lampwarden" rehearse --config "$config" --from 2026-11-02 --days "$1" --seed 1 --step 20 \
        --faults "$work/faults" --journal "$2" --json
}
rehearse 2 "$work/short.db"
rehearse 4 "$journal"

# --- a bar on a terminal while it lasts, and nothing of it in a file
python3 - "$lampwarden" "$config" "$work/bar" <<'TERMINAL' || fail "a bar is on a terminal, and nowhere else"
import os, pty, select, subprocess, sys, time
leader, terminal = pty.openpty()
words = [sys.argv[1], "rehearse", "--config", sys.argv[2], "--from", "2026-11-02", "--days", "300", "--step", "1"]
file = open(sys.argv[3], "w+b")
runs = [subprocess.Popen(words, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=err) for err in (file, terminal)]
os.close(terminal)
seen, until = b"", time.monotonic() + 20
while b"\r[" not in seen and time.monotonic() < until and select.select([leader], [], [], 20)[0]:
    try:
        seen += os.read(leader, 4096)
    except OSError:  # it ended
        break
for run in runs: # the one with the file began first
    run.kill()
    run.wait()
assert b"\r[" in seen and b" %  " in seen, seen[-500:]
file.seek(0)
assert b"\r" not in file.read()
TERMINAL

# --- the same bytes each time, whatever came after the day
for form in '' --json --csv '--html -' '--space basil --config etc/none --html -'; do
    # shellcheck disable=SC2086 # words on purpose
    want 0 "$lampwarden" day 2026-11-02 --journal "$journal" $form
    cp "$work/out" "$work/first"
    # shellcheck disable=SC2086
    want 0 "$lampwarden" day 2026-11-02 --journal "$work/short.db" $form
    cmp "$work/first" "$work/out" || fail "day $form is not the same when more days follow"
done
for form in '' --json --csv; do
    # shellcheck disable=SC2086
    want 0 "$lampwarden" days 2026-11-02 2026-11-02 --journal "$journal" $form
    cp "$work/out" "$work/first"
    # shellcheck disable=SC2086
    want 0 "$lampwarden" days 2026-11-02 2026-11-02 --journal "$work/short.db" $form
    cmp "$work/first" "$work/out" || fail "days $form is not the same when more days follow"
done

# --- days and nights
want 0 "$lampwarden" days --journal "$journal" --space chrysanthemum
has 'Mon 11-02' out
has ' heat ' out
has '2026-W45' out
has 'taken by heat (heat foldback)' out
awk 'length($0) > 84 { print; exit 1 }' "$work/out" || fail "a line is too wide" # in bytes: two signs are longer
want 0 "$lampwarden" nights 2026-11-02 2026-11-03 --journal "$journal" --space chrysanthemum
has '2026-11-02  17:00-06:00  17:00-06:0' out # a tick of 20 s may take lights-on past the minute
has '100% dark' out
want 0 "$lampwarden" nights --journal "$journal" --json
cp "$work/out" "$work/nights.json"
want 0 "$lampwarden" days --journal "$journal" --json
cp "$work/out" "$work/days.json"
want 0 "$lampwarden" days --journal "$journal" --csv
cp "$work/out" "$work/days.csv"

# --- what a journal holds may be anything: it stays text
python3 - "$journal" <<'HOSTILE'
import sqlite3, sys
db = sqlite3.connect(sys.argv[1])
db.execute("""INSERT INTO event (wall_s, light_day, space_id, fixture, class, kind, text)
    SELECT begin_s + 43200, light_day, space_id, '', 2, 'test', '<script>alert("1")</script> & "quoted" ''single'' </svg>'
    FROM day WHERE light_day = (SELECT min(light_day) FROM day)""")
db.execute("UPDATE day SET currency = '<b>\"''&', stage = '<i>a''b%s\"'")
db.commit()
HOSTILE
want 0 "$lampwarden" day 2026-11-02 --journal "$journal" --config "$config" --html "$work/day.html"
test ! -s "$work/out" || fail "--html FILE also prints"
hasnt '<script' day.html
hasnt '<b>' day.html
hasnt '<i>' day.html
has '&lt;script&gt;alert(&quot;1&quot;)' day.html
has 'default-src' day.html
has 'aria-label="Mol account in mol m⁻²: target 12.00, heat foldback −' day.html
if command -v gnuplot >/dev/null; then
    for label in 'PPFD' 'µmol m⁻² s⁻¹' 'lamps' 'ruled by' 'heat foldback' '% of full light' 'temperature' '°C' \
        'hottest heatsink' 'dims from 58 °C' 'switch opens at 80 °C' '06:00'; do
        has "$label" day.html
    done
    want 0 "$lampwarden" day 2026-11-02 --space basil --journal "$journal" --plot "$work/basil.svg"
    grep -q '</svg>' "$work/basil.svg" || fail "no picture"
    want 1 "$lampwarden" day 2026-11-02 --journal "$journal" --plot "$work/all.svg"
    has '--space' err
else
    echo "gnuplot not found: pictures not tested (Debian: gnuplot-nox)"
fi
# as if gnuplot were not installed: the page says so, and is whole
mkdir "$work/empty"
PATH=$work/empty want 0 "$lampwarden" day 2026-11-02 --space basil --journal "$journal" --html "$work/bare.html"
has 'gnuplot is not installed' bare.html
has '</html>' bare.html
has 'delivered by the lamps' bare.html

python3 - "$work" <<'CHECK'
import csv, html.parser, json, sys
work = sys.argv[1]

class Page(html.parser.HTMLParser):
    """Every element is closed in its turn, no name twice, nothing is loaded from anywhere."""
    void = {"meta", "br", "img", "link", "hr"}
    def __init__(self):
        super().__init__()
        self.open, self.names, self.heads, self.count = [], set(), [], 0
    def handle_starttag(self, tag, attributes):
        self.count += 1
        assert tag not in ("script", "iframe", "object", "link", "img"), tag
        for name, value in attributes:
            assert not name.startswith("on"), (tag, name)
            assert name not in ("src", "srcset", "data"), (tag, name)
            if name == "id":
                assert value not in self.names, "id %s twice" % value
                self.names.add(value)
            if name.endswith("href"):
                assert value.startswith("#"), value
        if tag not in self.void:
            self.open.append(tag)
    def handle_startendtag(self, tag, attributes):
        self.handle_starttag(tag, attributes)
        if tag not in self.void:
            self.open.pop()
    def handle_endtag(self, tag):
        assert self.open and self.open.pop() == tag, "</%s> closes %s" % (tag, self.open)
    def handle_data(self, data):
        if self.open and self.open[-1] in ("h1", "h2"):
            self.heads.append(data)

for name, spaces in (("day", 3), ("bare", 1)):
    page = Page()
    page.feed(open("%s/%s.html" % (work, name), encoding="utf-8").read())
    page.close()
    assert not page.open, page.open
    assert page.heads.count("Mol account") == spaces, page.heads
    assert page.heads.count("Night hours") == spaces and page.heads.count("Events") == spaces

rows = list(csv.DictReader(open(work + "/days.csv")))
days = [day for line in open(work + "/days.json") for day in json.loads(line)["days"]]
assert len(rows) == len(days) == 15 # three spaces, four days and the one that has just begun
for row, day in zip(rows, days):
    assert row["space"] == day["space"] and row["light_day"] == day["light_day"]
    for key in set(row) & set(day) - {"space", "light_day", "is_closed", "met"}:
        if isinstance(day[key], float):
            assert abs(float(row[key]) - day[key]) < 1e-6, (key, row[key], day[key])
for line in open(work + "/days.json"):
    answer = json.loads(line)
    closed = [day for day in answer["days"] if day["is_closed"] and day["stage"]]
    for key in ("target_mol", "delivered_mol", "energy_kwh", "cost", "missing_mol"):
        for group in ("weeks", "stages"):
            assert abs(sum(one["sum"][key] or 0 for one in answer[group]) - sum(day[key] for day in closed)) < 1e-6
        assert abs(answer["all"]["mean"][key] * len(closed) - answer["all"]["sum"][key]) < 1e-6
    assert answer["all"]["days_met"] == sum(day["met"] for day in closed)
for line in open(work + "/nights.json"):
    for night in json.loads(line)["nights"]:
        assert night["night"] == "dark" and night["dose_umol_m2"] == 0 and night["breaks"] == [], night
print("pages, tables and nights read by others")
CHECK

# --- troubles are one line each
want 1 "$lampwarden" days 2030-01-01 --journal "$journal"
has 'days stored: 2026-11-02 to 2026-11-06' err
test "$(wc -l <"$work/err")" -eq 1 || fail "more than one line: $(cat "$work/err")"
want 1 "$lampwarden" nights 2020-01-01 2020-02-01 --journal "$journal"
for verb in day days nights; do
    want 1 "$lampwarden" $verb --space nobody --journal "$journal"
    want 1 "$lampwarden" $verb --journal "$work/none.db"
    want 1 "$lampwarden" $verb --journal "$config"
    want 0 "$lampwarden" $verb --help
    has "usage: lampwarden $verb" out
done
want 2 "$lampwarden" days 2026-11-03 2026-11-02 --journal "$journal"
has 'FROM (2026-11-03) lies behind TO (2026-11-02)' err
for words in 'days monday' 'days 2026-11-02 2026-02-30' 'days a b c' 'days --json --csv' 'nights --csv' \
    'nights 2026-11-03 2026-11-02' 'day --html' 'day --html x --json' 'day --plot x --csv'; do
    # shellcheck disable=SC2086 # words on purpose
    want 2 "$lampwarden" $words
done
want 1 "$lampwarden" day --journal "$journal" --html "$work/no/such/folder.html"
want 1 "$lampwarden" day --journal "$journal" --space basil --plot "$work/basil.pdf"
head -c 40000 "$journal" >"$work/damaged.db"
for verb in day days nights; do
    status=0
    "$lampwarden" $verb --journal "$work/damaged.db" >"$work/out" 2>"$work/err" || status=$?
    test $status -le 1 || fail "$verb on a damaged journal: exit status $status: $(cat "$work/err")"
done
