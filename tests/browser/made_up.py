# SPDX-License-Identifier: Apache-2.0
"""What the daemon would say at one minute of a rehearsed journal of the demonstration, and of states that are seldom."""
import datetime
import sqlite3
import threading

COLUMNS = [
    "wall_s",
    "lamp_umol",
    "daylight_umol",
    "level",
    "limiter",
    "heatsink_c",
    "air_c",
    "watts",
    "delivered_mol",
    "target_mol",
    "price_per_kwh",
    "quality",
]
WORDS = {
    "night": "night",
    "plan": "plan",
    "heat": "heat foldback",
    "dawn": "dawn",
    "dusk": "dusk",
    "light-ceiling": "PPFD ceiling of the stage",
    "full-light": "lamps at full light",
    "target-met": "target met",
    "sensor-lost": "no light reading",
    "rest": "minimum off time of the switch",
    "by-hand": "by hand",
    "not-running": "lamp control not running",
}
WINDOW = {"lettuce": (6, 22), "basil": (6, 22), "chrysanthemum": (6, 17)}
FULL_UMOL = {"lettuce": 840, "basil": 420, "chrysanthemum": 420}
EPOCH = datetime.date(1970, 1, 1)


def text_of(wall_s, offset_s):
    zone = datetime.timezone(datetime.timedelta(seconds=offset_s))
    return datetime.datetime.fromtimestamp(wall_s, zone).isoformat()


class Moment:
    """What the daemon would say at one minute of the journal."""

    def __init__(self, journal, day, hour):
        self.base = sqlite3.connect(f"file:{journal}?mode=ro", uri=True, check_same_thread=False)
        self.base.row_factory = sqlite3.Row
        self.lock = threading.RLock()  # a moment is changed as a whole
        self.day = (datetime.date.fromisoformat(day) - EPOCH).days
        self.spaces = [
            row[0] for row in self.ask("SELECT name FROM space WHERE name <> '' ORDER BY id")
        ]
        self.lost_day = ""
        self.state, self.ticks, self.silent, self.extra, self.has_charts = "day", 0, False, [], True
        row = self.ask(
            "SELECT begin_s, utc_offset_s FROM day WHERE light_day = ? LIMIT 1", self.day
        )[0]
        self.begin_s, self.offset_s = row
        self.set_hour(hour)

    def set_hour(self, hour):
        self.now_s = self.begin_s + int(hour * 60) * 60

    def ask(self, sql, *values):
        with self.lock:
            return self.base.execute(sql, values).fetchall()

    def minutes(self, space, day):
        return self.ask(
            "SELECT minute.* FROM minute JOIN space ON space.id = space_id WHERE name = ? AND light_day = ? "
            "AND wall_s <= ? ORDER BY wall_s",
            space,
            day,
            self.now_s,
        )

    def space(self, name):
        row = self.minutes(name, self.day)[-1]
        later = self.ask(
            "SELECT max(delivered_mol) FROM minute JOIN space ON space.id = space_id WHERE name = ? AND "
            "light_day = ?",
            name,
            self.day,
        )[0][0]
        today = self.ask(
            "SELECT day.* FROM day JOIN space ON space.id = space_id WHERE name = ? AND light_day = ?",
            name,
            self.day,
        )[0]
        on_s, off_s = (self.begin_s + hour * 3600 for hour in WINDOW[name])
        limiter = row["limiter"]
        is_lit = on_s <= self.now_s < off_s
        watts = row["watts"] or 0
        past = self.minutes(name, self.day)
        missing = (
            {
                key: mol
                for key, mol in self.ask(
                    "SELECT limiter, mol FROM day_missing JOIN space ON space.id = space_id WHERE name = ? AND light_day = ? AND "
                    "mol > 0.005",
                    name,
                    self.day,
                )
            }
            if later < row["target_mol"] - 0.05 and not self.is_early()
            else {}
        )
        on = f"on at {row['level'] * 100:.0f} %"
        state = {
            "night": "dark: night until 06:00",
            "plan": on + " by plan",
            "heat": f"{on}, held down by heat (heatsink {row['heatsink_c']:.1f} °C)",
        }.get(limiter, f"{on}: {WORDS.get(limiter, limiter)}")
        even = row["target_mol"] * min(1, max(0, (self.now_s - on_s) / (off_s - on_s)))
        count = 2 if name == "lettuce" else 1
        fixtures = [
            {
                "fixture": f"{name}_{'ab'[i]}" if count > 1 else name,
                "level": row["level"],
                "drive": row["drive"],
                "closed": row["level"] > 0,
                "seen_closed": row["level"] > 0,
                "watts": watts / count,
                "unconfirmed_s": None,
                "switch_is_known": True,
                "measured_watts": watts / count,
                "expected_watts": watts / count,
                "full_watts": 300.0,
                "expected_umol": row["lamp_umol"] / count,
                "limiter": limiter,
                "heat_c": row["heatsink_c"] - i,
                "heat_max_c": today["heatsink_max_c"],
                "heat_from_c": 58.0,
                "heat_trip_c": 75.0,
                "heat_is_latched": False,
                "drive_cap": 0.95,
                "switch_operations_total": 41,
                "output_fault": False,
            }
            for i in range(count)
        ]
        return {
            "space": name,
            "state": state,
            "stage": today["stage"],
            "stage_day": today["stage_day"],
            "stage_days": 63 if name == "chrysanthemum" else None,
            "night_is_protected": name == "chrysanthemum",
            "phase": "day" if is_lit else "night",
            "light_day": str(EPOCH + datetime.timedelta(self.day)),
            "until_on_s": 0 if is_lit else (on_s - self.now_s) % 86400,
            "until_off_s": off_s - self.now_s if is_lit else -1,
            "level": row["level"],
            "asked_level": row["level"],
            "limiter": limiter,
            "limiter_words": WORDS.get(limiter, limiter),
            "ppfd_umol": row["ppfd_umol"],
            "ppfd_quality": "good",
            "lamp_umol": row["lamp_umol"],
            "daylight_umol": row["daylight_umol"],
            "full_umol": FULL_UMOL[name],
            "light_is_measured": True,
            "gain": {"steps": 0},
            "ageing": None,
            "ppfd_sensors": ["par_" + name],
            "ppfd_age_s": 0.4,
            "delivered_mol": row["delivered_mol"],
            "target_mol": row["target_mol"],
            "even_pace_mol": even,
            "forecast_mol": later if not self.is_early() else max(later, row["target_mol"]),
            "missing_mol": missing,
            "out_of_reach": None,
            "lamp_mol": row["delivered_mol"],
            "daylight_mol": 0.0,
            "lost_s": 0.0,
            "watts": watts,
            "energy_kwh": sum(m["watts"] or 0 for m in past) / 60000,
            "cost": sum((m["watts"] or 0) * m["price_per_kwh"] for m in past) / 60000,
            "currency": "EUR",
            "switch_operations": 1,
            "night_dose_umol_m2": 0.0,
            "night_possible_umol_m2": 0.0,
            "night_breaks": 0,
            "air_c": row["air_c"],
            "humidity_percent": row["humidity_percent"],
            "vpd_kpa": 1.03,
            "dew_point_c": 12.1,
            "hand": None,
            "fixtures": fixtures,
            "faults": [],
        }

    def is_early(self):
        return self.now_s < self.begin_s + 8 * 3600

    def status(self):
        with self.lock:
            return self.status_now()

    def status_now(self):
        self.ticks += 1
        spaces = [self.space(name) for name in self.spaces]
        answer = {
            "site": "Propagation room",
            "time": text_of(self.now_s + self.ticks % 60, self.offset_s),
            "clock": "synchronised",
            "clock_reason": "",
            "uptime_s": 250000.0 + self.ticks,
            "is_ready": True,
            "in_crash_loop": False,
            "ticks": self.ticks,
            "power": None,
            "overruns": 0,
            "spaces": spaces,
            "outputs": [],
            "buses": [],
            "journal": {"state": "healthy"},
            "faults": [],
            "version": "0.1.0",
        }
        if self.state == "demonstration":
            answer["demonstration"] = "bench, 720 times as fast"
        if self.state == "blind":
            spaces[1].update(
                ppfd_umol=None,
                ppfd_quality="lost",
                light_is_measured=False,
                air_c=None,
                humidity_percent=None,
                vpd_kpa=None,
                ppfd_age_s=412.0,
            )
            spaces[1]["fixtures"][0].update(heat_c=None)
            spaces[1]["faults"] = ["light sensor par_basil: lost (no answer)"]
        if self.state == "fault":
            spaces[2].update(
                state="dark: LED driver trip of chrysanthemum, resting before the next try",
                level=0.0,
                limiter="driver-trip",
                limiter_words="LED driver trip",
                ppfd_umol=0.0,
                lamp_umol=0.0,
            )
            spaces[2]["faults"] = [
                "fixture chrysanthemum: its LED driver tripped; next try in 240 s"
            ]
            spaces[0]["faults"] = [
                "fixture lettuce_b: open asked, not confirmed since 15:04; it may still be lit at 38 %"
            ]
            answer["faults"] = ["bus line1 is not connected: Connection refused"]
        if self.state == "waiting":
            for space in spaces:
                space.update(
                    state="dark: the first stage begins in 3 days",
                    stage=None,
                    stage_day=3,
                    phase="waiting",
                    ppfd_umol=0.0,
                    lamp_umol=0.0,
                    light_day=None,
                    level=0.0,
                    limiter="night",
                    target_mol=0.0,
                    delivered_mol=0.0,
                    forecast_mol=0.0,
                    even_pace_mol=None,
                    missing_mol={},
                    until_on_s=-1,
                    until_off_s=-1,
                )
        answer["faults"] += self.extra
        return answer

    def plan(self, name):
        rows = self.ask(
            "SELECT minute.* FROM minute JOIN space ON space.id = space_id WHERE name = ? AND light_day = ? AND "
            "wall_s > ? ORDER BY wall_s",
            name,
            self.day,
            self.now_s,
        )
        hours = {}
        for row in rows:
            hours.setdefault(row["wall_s"] // 3600, []).append(row)
        now = self.space(name)
        return {
            "site": "Propagation room",
            "names": self.spaces,
            "spaces": [
                {
                    "space": name,
                    "state": now["state"],
                    "is_tomorrow": False,
                    "light_day": now["light_day"],
                    "target_mol": now["target_mol"],
                    "delivered_mol": now["delivered_mol"],
                    "expected_mol": now["forecast_mol"],
                    "hours": [
                        {
                            "from": text_of(its[0]["wall_s"], self.offset_s),
                            "to": text_of(its[-1]["wall_s"] + 60, self.offset_s),
                            "length_s": 60 * len(its),
                            "level": sum(m["level"] for m in its) / len(its),
                            "lamp_mol": sum(m["lamp_umol"] for m in its) * 6e-5,
                            "daylight_mol": 0.0,
                            "price_per_kwh": its[0]["price_per_kwh"],
                            "energy_kwh": sum(m["watts"] for m in its) / 60000,
                            "limiter": its[-1]["limiter"],
                            "words": WORDS.get(its[-1]["limiter"], ""),
                        }
                        for its in hours.values()
                    ],
                }
            ],
        }

    def day_object(self, row):
        day = {key: row[key] for key in row.keys() if key not in ("space_id", "name", "light_day")}
        day.update(
            space=row["name"],
            light_day=str(EPOCH + datetime.timedelta(row["light_day"])),
            is_closed=bool(row["is_closed"]),
            feasible=bool(row["is_feasible"]),
        )
        for key in ("lights_on", "lights_off"):
            day[key] = text_of(row[key + "_s"], self.offset_s) if row[key + "_s"] else None
        for key in ("begin_s", "lights_on_s", "lights_off_s", "is_feasible", "stage_index"):
            del day[key]  # of the journal alone
        if (day["space"], day["light_day"]) == ("lettuce", "2026-11-20"):
            day["delivered_mol"] = day["target_mol"] - 0.1  # short, though by less than 2 %
        day["missing_mol"] = (
            max(0.0, day["target_mol"] - day["delivered_mol"]) if day["is_closed"] else 0.0
        )
        day["short_mol"] = dict(
            map(
                tuple,
                self.ask(
                    "SELECT limiter, mol FROM day_missing JOIN space ON space.id = space_id WHERE name = ? AND light_day = ?",
                    row["name"],
                    row["light_day"],
                ),
            )
        )
        day["missed"] = day["missing_mol"] > 0.02 * row["target_mol"]
        day["met"] = day["missing_mol"] < 0.05
        return day

    def days(self, name, day, count):
        rows = self.ask(
            "SELECT day.*, name FROM day JOIN space ON space.id = space_id WHERE name = ? AND light_day <= ? "
            "ORDER BY light_day DESC LIMIT ?",
            name,
            day,
            count,
        )
        return [self.day_object(row) for row in reversed(rows)]

    def events(self, name, day):
        begin_s = self.begin_s + (day - self.day) * 86400
        classes = ["info", "notice", "alarm"]
        rows = self.ask(
            "SELECT event.*, name FROM event JOIN space ON space.id = space_id WHERE name IN (?, '') AND "
            "wall_s >= ? AND wall_s < ? AND wall_s <= ? ORDER BY event.id",
            name,
            begin_s,
            begin_s + 86400,
            self.now_s,
        )
        return [
            {
                "time": text_of(row["wall_s"], self.offset_s),
                "space": row["name"],
                "fixture": row["fixture"],
                "class": classes[row["class"]],
                "kind": row["kind"],
                "text": row["text"],
            }
            for row in rows
        ]

    def day_json(self, name, day):
        answer = self.days(name, day, 1)[0]
        if day == self.day:
            now = self.space(name)
            answer.update(
                {key: now[key] for key in ("delivered_mol", "energy_kwh", "cost", "lamp_mol")},
                is_closed=False,
                short_mol=now["missing_mol"],
                lights_off=None,
            )
        hours = {}
        for row in self.minutes(name, day):
            hours.setdefault(row["wall_s"] // 3600 * 3600, []).append(row)
        answer["hours"] = [
            {
                "begin": text_of(at, self.offset_s),
                "ppfd_umol": sum(m["ppfd_umol"] or 0 for m in its) / len(its),
                "mol": sum(m["lamp_umol"] for m in its) * 6e-5,
                "level": sum(m["level"] for m in its) / len(its),
                "limiter": its[-1]["limiter"],
                "heatsink_max_c": max(m["heatsink_c"] for m in its),
                "energy_kwh": sum(m["watts"] for m in its) / 60000,
                "minutes": len(its),
            }
            for at, its in hours.items()
        ]
        answer["events"], answer["ageing"] = self.events(name, day), None
        return answer

    def nights(self, name):
        """The form of the night check; one night of the chrysanthemum is broken."""
        on, off = WINDOW[name]
        nights = []
        for day in range(self.day - 23, self.day):
            begin_s = self.begin_s + (day - self.day) * 86400 + off * 3600
            end_s = begin_s + (24 - off + on) * 3600
            is_broken = name == "chrysanthemum" and day == self.day - 3
            at = [text_of(begin_s + part, self.offset_s) for part in (4 * 3600, 4 * 3600 + 900)]
            breaks = (
                [
                    {
                        "begin": at[0],
                        "end": at[1],
                        "peak_umol": 6.0,
                        "dose_umol_m2": 5400.0,
                        "cause": "hand",
                        "text": "By hand: lit at 2 % from 21:00 to 21:15.",
                    }
                ]
                if is_broken
                else []
            )
            nights.append(
                {
                    "light_day": str(EPOCH + datetime.timedelta(day)),
                    "begin": text_of(begin_s, self.offset_s),
                    "end": text_of(end_s, self.offset_s),
                    "length_s": end_s - begin_s,
                    "dose_umol_m2": 5400.0 * is_broken,
                    "longest_light_s": 900.0 * is_broken,
                    "night": "broken" if is_broken else "dark",
                    "breaks": breaks,
                    "breaks_left_out": 0,
                    "text": "Broken once." if is_broken else "Dark.",
                }
            )
        return {"space": name, "nights": nights}

    def why(self, name, time):
        """A made-up answer in the form of `lampwarden why --json`."""
        rules = [("night", None, False, None), ("heat", 0.93, True, "heatsink 59.0 °C (good, 1 s old)"), ("plan", 1.0, False, None)]
        words = {"night": "night", "heat": "heat foldback", "plan": "plan"}
        rows = [{"limiter": key, "words": words[key], "allowed": allowed, "rules": won, "saw": saw} for key, allowed, won, saw in rules]
        sentence = f"At {time[11:16]} {name} burned at 93 %: heat foldback allowed no more."
        return {"space": name, "sentence": sentence, "note": None, "rules": rows,
                "fixtures": [{"fixture": name, "rules": rows}]}

    def minutes_json(self, name, day):
        rows = self.minutes(name, day)
        limiters = sorted({row["limiter"] for row in rows})
        return {
            "space": name,
            "day": str(EPOCH + datetime.timedelta(day)),
            "begin_s": self.begin_s + (day - self.day) * 86400,
            "utc_offset_s": self.offset_s,
            "limiters": limiters,
            "columns": COLUMNS,
            "rows": [
                [
                    limiters.index(row["limiter"]) if key == "limiter" else row[key]
                    for key in COLUMNS
                ]
                for row in rows
            ],
        }
