#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""0-10 V by converters: the bytes that arrive at the chip, not what sysfs says it was told.

The kernel's own IIO drivers talk to chips that stand behind a real I2C bus (guest/chips.c), which writes down every
transfer. Sources: kernel documentation, ABI/testing/sysfs-bus-iio; the chips' data sheets for the meaning of the
bytes: Microchip MCP4725 (fast write: 0 0 PD1 PD0 D11…D8, D7…D0), Mitsubishi M62332 (channel, D7…D0), Maxim MAX517
(command 0 for output 0, D7…D0), Texas Instruments DAC5571 (0 0 PD1 PD0 D7…D4, D3…D0 0 0 0 0).

Such a chip keeps its last value when the program ends, and most cannot be asked what it is.
"""
import os
import sys

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "support"))
from checks import check, done                                                 # noqa: E402
from daemon import Daemon, config, fixture, space                              # noqa: E402
from hardware import chip_log, chips, chips_end                                # noqa: E402
from machine import VM, together, until                                           # noqa: E402


class Lamp:
    """A converter at an address, how its bus and its output are configured, and what its bytes mean."""

    def __init__(self, name, model, address, which, output, bits, volts, number):
        self.name, self.model, self.address, self.which, self.output = name, model, address, which, output
        self.full, (self.low, self.high), self.number = 2 ** bits - 1, volts, number

    def raw(self, level):
        """Volts at the terminal of a stage that makes 10 V of the highest value."""
        return round((self.low + (self.high - self.low) * level) / 10.0 * self.full)


LAMPS = [
    Lamp("twelve", "mcp4725@60:mcp4725", 0x60, 'chip = "mcp4725"', "", 12, (0.0, 10.0),
         lambda b: (b[0] & 0x0f) << 8 | b[1] if len(b) == 2 and b[0] & 0xc0 == 0 else None),
    Lamp("narrow", "sink@20:m62332", 0x20, 'device = "0-0020"', "channel = 1; bits = 8; volts_low = 1.0;", 8,
         (1.0, 10.0), lambda b: b[1] if len(b) == 2 and b[0] == 1 else None),
    Lamp("upside", "sink@2c:max517", 0x2c, 'device = "i2c-0/0-002c"', "bits = 8; volts_low = 10.0; volts_high = 0.0;",
         8, (10.0, 0.0), lambda b: b[1] if len(b) == 2 and b[0] == 0 else None),
    Lamp("eight", "sink@4c:dac5571", 0x4c, 'chip = "dac5571"; device = "0-004c"', "bits = 8; safe = 0.2;", 8,
         (0.0, 10.0), lambda b: (b[0] & 0x0f) << 4 | b[1] >> 4 if len(b) == 2 and b[0] & 0xc0 == 0 else None),
]
SAFE = {"twelve": 0.0, "narrow": 0.0, "upside": 0.0, "eight": 0.2}


def lamps():
    """A bus, a lamp and a space for each."""
    return config(['{ name = "%s"; driver = "dac"; %s; every_s = 0.5; }' % (x.name, x.which) for x in LAMPS],
                  ['{ name = "dim_%s"; bus = "%s"; kind = "dim"; full_scale_v = 10.0; %s }' % (x.name, x.name, x.output)
                   for x in LAMPS],
                  [fixture("bar_" + x.name, dim="dim_" + x.name) for x in LAMPS],
                  [space("shelf_" + x.name, ["bar_" + x.name]) for x in LAMPS])


def values(vm, lamp):
    """Every value that the chip took, in order."""
    taken = []
    for line in chip_log(vm, lamp.address):
        words = line.split()
        if words[0] == "w" and words[-2:] == ["=", "0"] and "|" not in words:
            taken.append(lamp.number([int(word, 16) for word in words[1:-2]]))
    return [value for value in taken if value is not None]


def holds(vm, lamp, level, seconds=40):
    return until(lambda: values(vm, lamp)[-1:] == [lamp.raw(level)], seconds)


def hold_all(daemon, level):
    for lamp in LAMPS:
        daemon.hold("shelf_" + lamp.name, level)


def all_hold(vm, what, level, daemon, but=""):
    for lamp in LAMPS:
        wanted = SAFE[lamp.name] if level == "safe" else level
        if lamp.name != but:
            check("%s: %s" % (lamp.name, what % lamp.raw(wanted)), holds(vm, lamp, wanted),
                  lambda: (values(vm, lamp)[-4:], daemon.log()))


def its_fixture(daemon, lamp):
    return daemon.fixture("bar_" + lamp.name)


def asleep(vm):
    """Puts to sleep what can sleep. Returns how many."""
    return int(vm.must("n=0; for f in /sys/bus/iio/devices/*/out_voltage*_powerdown; do "
                       "echo 1 > $f && n=$((n + 1)); done; echo $n"))


def still_asleep(vm):
    return vm.must("cat /sys/bus/iio/devices/*/out_voltage*_powerdown | grep -c 1; true")


def a_machine():
    vm = VM()
    vm.must("load ti-dac5571")
    chips(vm, *[x.model for x in LAMPS])
    return vm


def life(vm):
    sleepers = asleep(vm)
    check("converters sleep before the start", sleepers >= 2, sleepers)
    before = {lamp.name: len(values(vm, lamp)) for lamp in LAMPS}
    daemon = Daemon(vm, lamps()).start()
    for lamp in LAMPS:
        first = values(vm, lamp)[before[lamp.name]:]
        # The kernel's dac5571 takes no value while it sleeps (EBUSY) and wakes with its old one.
        woken = [0] if lamp.name == "eight" else []
        check("%s: the first value is the safe one" % lamp.name,
              first[:len(woken) + 1] == woken + [lamp.raw(SAFE[lamp.name])], first)
    check("none sleeps any more", still_asleep(vm) == "0", lambda: still_asleep(vm))
    for level in (0.1, 0.5003, 0.731, 1.0):
        hold_all(daemon, level)
        all_hold(vm, "at %.2f %%%% the chip holds %%d" % (100 * level), level, daemon)
    for lamp in LAMPS:
        low, high = sorted((lamp.raw(0.0), lamp.raw(1.0)))
        check("%s: never a value outside %d … %d" % (lamp.name, low, high),
              all(low <= value <= high for value in values(vm, lamp)[before[lamp.name]:]))
    daemon.stop()
    all_hold(vm, "after a stop the chip holds %d", "safe", daemon)
    daemon.start()
    hold_all(daemon, 0.6)
    all_hold(vm, "at 60 %% again: %d", 0.6, daemon)


def trouble(vm, daemon):
    """No acknowledge: sysfs would read back the value that never arrived."""
    lamp = LAMPS[0]
    vm.must("echo nak > /run/chips/60.fault")
    hold_all(daemon, 0.4)
    check("a chip that does not answer: output-fault", until(lambda: its_fixture(daemon, lamp)["output_fault"], 20),
          daemon.log)
    all_hold(vm, "the others go on: %d", 0.4, daemon, but="twelve")
    vm.must("rm /run/chips/60.fault")
    check("it answers again: the lamp goes on by itself", holds(vm, lamp, 0.4, 40), daemon.log)

    chips_end(vm)
    check("the whole bus goes: every lamp is in output-fault",
          until(lambda: all(its_fixture(daemon, x)["output_fault"] for x in LAMPS), 40), daemon.log)
    chips(vm, *[x.model for x in reversed(LAMPS)])
    all_hold(vm, "back under another number: %d", 0.4, daemon)


def after_death(vm, daemon):
    daemon.signal("KILL")
    until(lambda: not daemon.running())
    for lamp in LAMPS:
        check("%s keeps its value after kill -9: nobody owns it" % lamp.name, holds(vm, lamp, 0.4, 0))
    result = daemon.make_safe()
    check("make-safe confirms", result.ok, result)
    all_hold(vm, "after make-safe the chip holds %d", "safe", daemon)
    check("make-safe twice is as good", daemon.make_safe().ok)
    vm.must("echo nak > /run/chips/2c.fault")
    result = daemon.make_safe()
    check("make-safe with a silent chip says so", result.status == 1 and "upside" in result.out, result)


def easy_life():
    with a_machine() as vm:
        life(vm)


def hard_life():
    with a_machine() as vm:
        daemon = Daemon(vm, lamps()).start()
        trouble(vm, daemon)
        after_death(vm, daemon)


together(easy_life, hard_life)
done()
