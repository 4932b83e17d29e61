#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Clocks that are wrong: at the start, and set while the light burns.

Sources: adjtimex(2), clock_settime(2): who sets the clock ends its synchronisation. Boards without a battery clock start
in 1970 or at the last saved time, a bad battery clock anywhere: common practice, no source. What each policy does stands
in the README and in the configuration's reference.

Three lamps on three lines of gpio-sim, one for each policy, in warped time: "sleep 300" passes at once. What the lamps
do is read from the pins and from the kernel's trace of them.
"""
import os
import shutil
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "support"))
import machine                                                                 # noqa: E402
from checks import check, done                                                 # noqa: E402
from daemon import Daemon, config, day, fixture, space                         # noqa: E402
from hardware import gpio_bank, pin                                            # noqa: E402
from machine import VM, together                                               # noqa: E402

POLICIES = ("dark", "low", "carry-on")
MIN_ON_S, MIN_OFF_S, SETTLE_S = 120.0, 180.0, 400
DAY_S, YEAR_S = 86400, 365 * 86400
NOON_S = (int(time.time()) // DAY_S + 2) * DAY_S + 12 * 3600       # the days after the build; lit from 6 to 18 h
ALL, NONE, UNTRUSTED = (1, 1, 1), (0, 0, 0), (0, 1, 1)             # the pins by policy; untrusted: at a lit hour


def lamps():
    bars = [fixture("bar_%d" % i, switch="contact_%d" % i).replace(
        "min_on_s = 2.0; min_off_s = 2.0;", "min_on_s = %.1f; min_off_s = %.1f;" % (MIN_ON_S, MIN_OFF_S))
        for i in range(len(POLICIES))]
    spaces = [space("shelf_%d" % i, ["bar_%d" % i]).replace('"carry-on"', '"%s"' % policy)
              for i, policy in enumerate(POLICIES)]
    return config(['{ name = "relays"; driver = "gpio"; chip = "relays"; }'],
                  ['{ name = "contact_%d"; bus = "relays"; kind = "switch"; line = "SHELF_%d"; }' % (i, i)
                   for i in range(len(POLICIES))], bars, spaces, stages=day("06:00", 12.0, 15.0))


class Machine:
    """At a moment of its battery clock, with the journal on its disk."""

    def __init__(self, disk, moment):
        self.vm = VM(initrd=os.path.join(machine.BUILD, "kernel", "plain.cpio"), memory=160, disk=disk,
                     icount="shift=2,sleep=off", rtc=time.strftime("base=%Y-%m-%dT%H:%M:%S,clock=vm", time.gmtime(moment)))
        self.vm.must("load ext4; load virtio_blk; mount -t ext4 /dev/vda /data")
        gpio_bank(self.vm, "relays", ["SHELF_%d" % i for i in range(len(POLICIES))])
        self.daemon = Daemon(self.vm, lamps())

    def __enter__(self):
        return self

    def __exit__(self, *exc):
        self.vm.close()

    def start(self):
        self.daemon.start()
        return self.settle()

    def settle(self, seconds=SETTLE_S):
        self.vm.must("sleep %d" % seconds)
        return self.pins()

    def pins(self):
        return tuple(pin(self.vm, i) for i in range(len(POLICIES)))

    def set(self, moment, is_synchronised=True):
        self.vm.must("date -s @%d > /dev/null; clocksync %s" % (moment, "yes" if is_synchronised else "no"))

    def now(self):
        return int(self.vm.must("date +%s"))

    def trust(self):
        return self.daemon.status()["clock"]

    def detail(self):
        status = self.daemon.status()
        return self.pins(), status["time"], status["clock"], status["clock_reason"], self.daemon.log()[-1500:]

    def end(self):
        self.daemon.stop()
        self.vm.must("umount /data")


def a_disk(folder, name):
    path = os.path.join(folder, name)
    with open(path, "wb") as file:
        file.truncate(32 << 20)
    subprocess.run(["mkfs.ext4", "-q", "-F", path], check=True,
                   env=dict(os.environ, PATH=os.environ["PATH"] + ":/usr/sbin:/sbin"))
    return path


def starts(folder):
    """One after the other on the same journal; the clock's battery says something else each time."""
    disk = a_disk(folder, "starts")
    with Machine(disk, NOON_S) as first:
        first.vm.must("clocksync yes")
        check("a synchronised start at noon: all lit", first.start() == ALL and first.trust() == "synchronised", first.detail)
        first.end()
    wrong = [("in 1970, at noon", 12 * 3600, (0, 1, 0)), ("30 days before the journal", NOON_S - 30 * DAY_S, UNTRUSTED),
             ("ten years after it", NOON_S + 10 * YEAR_S, UNTRUSTED), ("thirty years after it", NOON_S + 30 * YEAR_S, UNTRUSTED)]
    for what, moment, expected in wrong:
        # Entries of a wrong year that somebody vouched for are another story: that one has its own journal.
        own = shutil.copy(disk, disk + ".ten") if what.startswith("ten") else disk
        with Machine(own, moment) as then:
            check("a start %s: untrusted; dark, low and carry on" % what,
                  then.start() == expected and then.trust() == "untrusted", then.detail)
            if what.startswith("ten"):
                then.vm.must("clocksync yes")
                check("… vouched for, it is believed: all lit", then.settle() == ALL, then.detail)
                then.set(NOON_S + 2 * DAY_S)
                check("… and so is the right one afterwards", then.settle() == ALL, then.detail)
            elif what.startswith("30"):
                then.set(NOON_S + DAY_S)
                check("… set right and vouched for: all lit", then.settle() == ALL and then.trust() == "synchronised",
                      then.detail)
                then.vm.must("clocksync no; sleep 60")
                check("… held over when the time server goes", then.pins() == ALL and then.trust() == "held-over", then.detail)
            then.end()
    with Machine(disk, NOON_S + 3 * DAY_S) as last:
        check("a start at the right time after all that, offline: all lit",
              last.start() == ALL and last.trust() == "held-over", last.detail)


def edges(vm, line, base):
    """[(seconds, level)] of the line; what is driven again is no edge."""
    out = []
    for at, event, text in vm.traced():
        if event == "gpio_value" and text.startswith("%d set " % (base + line)):
            level = int(text.split()[-1])
            if not out or out[-1][1] != level:
                out.append((at, level))
    return out


def switched_too_fast(vm):
    base = int(vm.must("for c in /sys/class/gpio/gpiochip*; do [ $(cat $c/label) = relays ] && cat $c/base; done"))
    fast, count = [], 0
    for line in range(len(POLICIES)):
        pulses = edges(vm, line, base)
        count += len(pulses)
        # The first edge is the start, which opens everything.
        for (began, level), (ended, _) in zip(pulses[1:], pulses[2:]):
            least = MIN_ON_S if level else MIN_OFF_S
            if ended - began < least - 1.5:
                fast.append("line %d was %d for %.1f s" % (line, level, ended - began))
    return fast, count


def steps(folder):
    moves = [("an hour on", 3600), ("an hour back", -3600), ("seven hours on, into the night", 7 * 3600),
             ("seven hours back", -7 * 3600), ("a day on", DAY_S), ("a day back", -DAY_S), ("40 years on", 40 * YEAR_S),
             ("40 years back", -40 * YEAR_S)]
    with Machine(a_disk(folder, "steps"), NOON_S) as it:
        it.vm.trace("gpio")
        it.vm.must("clocksync yes")
        check("lit at noon", it.start() == ALL, it.detail)
        seen = []
        for what, seconds in moves:
            it.set(it.now() + seconds)
            moment = it.now()
            seen.append((what, moment, it.settle(), it.trust()))
        for turn in range(8):                                      # between day and night, faster than a contact may
            it.set(it.now() + (7 if turn % 2 == 0 else -7) * 3600)
            it.settle(20)
        check("lit after all the steps", it.settle() == ALL, it.detail)
        fast, count = switched_too_fast(it.vm)
        check("no contact moved before its minimum times (%d edges)" % count, count > 12 and not fast, "\n".join(fast))
        for what, moment, pins, trust in seen:
            it.daemon.stop()
            it.vm.must("rm -rf /data/* /run/lampwarden")
            it.set(moment)
            afresh = it.start(), it.trust()
            check("%s: as after a fresh start there: %s, %s" % (what, pins, trust), (pins, trust) == afresh,
                  lambda: (afresh, it.detail()))


with tempfile.TemporaryDirectory(prefix="lampwarden-clock-") as directory:
    together(lambda: starts(directory), lambda: steps(directory))
done()
