#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""A whole light day of the real daemon, in warped time, beside the rehearsal of the same day.

The machine's clocks jump over idle time (QEMU documentation, "TCG instruction counting": -icount with sleep=off), program
and kernel are unchanged. The lamp is the bench inside the daemon, so that nothing outside lives in real time. The light
day ends a quarter of an hour after lights-off and its lit part is short: the dark hours before the start add nothing but
waiting. Dawn, a heat step, a bus that goes for half a minute, dusk; then both journals are read by the same program.
"""
import base64
import json
import math
import os
import sqlite3
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "support"))
import machine                                                                 # noqa: E402
from checks import check, done                                                 # noqa: E402
from daemon import Daemon                                                      # noqa: E402
from machine import VM                                                         # noqa: E402

DAY = "2026-11-29"                          # begins at 10:00
START = "2026-11-30T07:50:00"
ON, OFF, END = "08:00", "09:15", "09:30"
FAULTS = (("08:25", "10min", "heat-step 0 40"), ("08:50", "25s", "bus-down 0"))
RUN_S = 103 * 60                            # from the start until the light day is over
# The rehearsal's room is coldest at the beginning of the light day, 2 K below 22 °C; the machine's begins with the daemon.
ROOM_C = 22 - 2 * math.cos(2 * math.pi * 23 / 24)

CONFIG = """
site = { name = "Propagation room (invented)"; utc_offset = "+00:00"; price_per_kwh = 0.30; currency = "EUR"; };
buses = ( { name = "line"; driver = "bench"; every_s = 1.0; %s } );
sensors = ( { name = "par"; bus = "line"; kind = "ppfd"; unit = 0; high = 650.0; },
            { name = "heat"; bus = "line"; kind = "temperature"; unit = 0; },
            { name = "power"; bus = "line"; kind = "power"; unit = 0; } );
outputs = ( { name = "dim"; bus = "line"; kind = "dim"; unit = 0; },
            { name = "contact"; bus = "line"; kind = "switch"; unit = 0; } );
limits = { heat = { foldback_from_c = 58.0; foldback_to_c = 70.0; }; };
fixtures = ( { name = "bench_lamp"; dim = "dim"; switch = "contact"; ppfd_full = 420.0; drive_ceiling = 0.95;
  heat_sensors = [ "heat" ]; power_sensor = "power"; curve = (
    { drive = 0.00; level = 0.000; watts = 2.1; }, { drive = 0.08; level = 0.100; watts = 31.3; },
    { drive = 0.15; level = 0.160; watts = 47.0; }, { drive = 0.25; level = 0.255; watts = 72.4; },
    { drive = 0.35; level = 0.355; watts = 100.1; }, { drive = 0.45; level = 0.460; watts = 130.1; },
    { drive = 0.55; level = 0.570; watts = 162.5; }, { drive = 0.70; level = 0.745; watts = 216.5; },
    { drive = 0.85; level = 0.910; watts = 269.8; }, { drive = 0.95; level = 1.000; watts = 300.0; },
    { drive = 1.00; level = 1.000; watts = 300.0; } ); } );
stages = ( { name = "short_days"; days = 0; lights_on = "08:00"; day_length_h = 1.25; target_mol = 1.4; dawn_min = 10.0;
             dusk_min = 10.0; protect_night = true; } );
spaces = ( { name = "chrysanthemum"; fixtures = [ "bench_lamp" ]; ppfd_sensors = [ "par" ]; stages = [ "short_days" ];
             start = "2026-11-02"; light_day_start = "09:30"; } );
journal = { path = "/data/journal.db"; };
control = { socket = "/run/lampwarden/control"; };
"""


def seconds(clock):
    return sum(int(part) * unit for part, unit in zip(clock.split(":"), (3600, 60)))


def faults(begin):
    """The script, its times counted from a time of day; a light day begins on the evening before."""
    return "".join("%ds %s %s\n" % ((seconds(at) - begin) % 86400, length, what) for at, length, what in FAULTS)


def in_the_machine(folder):
    journal = os.path.join(folder, "machine.db")
    with VM(initrd=os.path.join(machine.BUILD, "kernel", "plain.cpio"), memory=160, icount="shift=2,sleep=off",
            rtc="base=%s,clock=vm" % START, wait=200) as vm:
        vm.must("clocksync yes")
        vm.put(faults(seconds(START[11:16])).encode(), "/run/faults", 0o644)
        daemon = Daemon(vm, CONFIG % ('script = "/run/faults"; room_swing_c = 0.0; room_c = %.2f;' % ROOM_C)).start()
        began = time.monotonic()
        vm.must("sleep %d" % RUN_S, timeout=200)
        print("      %d s of the machine's time in %.1f s" % (RUN_S, time.monotonic() - began))
        ticks = daemon.status()
        check("not one tick in ten thousand was late", ticks["overruns"] * 10000 <= ticks["ticks"], ticks["overruns"])
        daemon.stop(seconds=60)
        vm.must("sqlite3 /data/journal.db 'PRAGMA wal_checkpoint(TRUNCATE);'")
        with open(journal, "wb") as file:
            file.write(base64.b64decode(vm.must("base64 /data/journal.db")))
    return journal


def in_rehearsal(folder):
    journal, script, conf = (os.path.join(folder, name) for name in ("rehearsed.db", "faults", "conf"))
    with open(script, "w") as file:
        file.write(faults(seconds(END)))
    with open(conf, "w") as file:
        file.write(CONFIG % "")
    subprocess.run([program(), "rehearse", "--config", conf, "--from", DAY, "--days", "1", "--faults", script,
                    "--journal", journal], check=True, stdout=subprocess.DEVNULL)
    return journal


def program():
    return os.path.join(machine.BUILD, "kernel", "release", "bin", "lampwarden")


def day_of(journal):
    out = subprocess.run([program(), "day", DAY, "--journal", journal, "--json"], check=True, capture_output=True).stdout
    return json.loads(out.splitlines()[0])


def limiters(journal):
    """Who ruled each lit minute: {"08:31": "heat", …}"""
    with sqlite3.connect(journal) as base:
        rows = base.execute("SELECT wall_s, limiter FROM minute ORDER BY wall_s").fetchall()
    ruled = {time.strftime("%H:%M", time.gmtime(at)): name for at, name in rows
             if time.strftime("%Y-%m-%d", time.gmtime(at)) == START[:10]}
    return {at: name for at, name in ruled.items() if ON <= at < OFF}


def events(journal):
    """What happened in each minute from lights-on to the end of the day: ["08:00 lights-on", …]. A rehearsal has no buses
    to lose, only outputs that do not obey."""
    with sqlite3.connect(journal) as base:
        rows = base.execute("SELECT wall_s, kind FROM event WHERE kind NOT IN ('bus-lost', 'bus-back', "
                            "'target-out-of-reach')").fetchall()
    stamped = {(time.strftime("%Y-%m-%dT%H:%M", time.gmtime(at)), kind) for at, kind in rows}
    begin, end = ("%sT%s" % (START[:10], at) for at in (ON, END))
    return ["%s %s" % (at[11:], kind) for at, kind in sorted(stamped) if begin <= at < end]


def compare(real, rehearsed):
    mine, theirs = day_of(real), day_of(rehearsed)
    check("the day is closed in both", mine["is_closed"] and theirs["is_closed"], mine)
    for name in ("delivered_mol", "target_mol", "energy_kwh"):
        check("%s: %.4f and %.4f, within 1 %%" % (name, mine[name], theirs[name]),
              abs(mine[name] - theirs[name]) <= 0.01 * theirs[name])
    check("%.4f mol missing and %.4f, within 1 %% of the target" % (mine["missing_mol"], theirs["missing_mol"]),
          abs(mine["missing_mol"] - theirs["missing_mol"]) <= 0.01 * theirs["target_mol"], (mine, theirs))
    check("%d switch operations, as rehearsed" % mine["switch_operations"],
          mine["switch_operations"] == theirs["switch_operations"], theirs["switch_operations"])
    for name in ("lights_on", "lights_off"):
        check("%s at the same minute: %s" % (name, mine[name]), mine[name][:16] == theirs[name][:16], theirs[name])
    check("the hottest heatsink within 1.5 K: %.1f and %.1f" % (mine["heatsink_max_c"], theirs["heatsink_max_c"]),
          abs(mine["heatsink_max_c"] - theirs["heatsink_max_c"]) <= 1.5)
    check("no light in the night, in either", mine["night_dose_umol_m2"] == theirs["night_dose_umol_m2"] == 0, mine)
    ours, others = limiters(real), limiters(rehearsed)
    different = {at: (name, others.get(at)) for at, name in ours.items() if others.get(at) != name}
    check("the limiters that the script provokes ruled: %s" % ", ".join(sorted(set(ours.values()))),
          {"dawn", "dusk", "heat", "rest"} <= set(ours.values()), ours)
    check("%d of %d lit minutes ruled by the same limiter" % (len(ours) - len(different), len(others)),
          len(ours) == len(others) and len(different) <= 3, different)
    check("the same events in the same minutes, %d of them" % len(events(real)),
          events(real) == events(rehearsed), "%s\n%s" % (events(real), events(rehearsed)))


with tempfile.TemporaryDirectory() as work:
    compare(in_the_machine(work), in_rehearsal(work))
done()
