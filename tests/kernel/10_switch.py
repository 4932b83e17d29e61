#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Switches on GPIO lines: what the pin does, not what the program believes.

The kernel's gpio-sim shows the level of each pin (kernel documentation, admin-guide/gpio/gpio-sim.rst);
its trace event gpio_value tells every change that a driver asked for.
"""
import os
import sys

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "support"))
from checks import check, done                                                 # noqa: E402
from daemon import Daemon, config, fixture, space                              # noqa: E402
from hardware import gpio_bank, pin                                            # noqa: E402
from machine import VM, until                                                  # noqa: E402

BUS = '{ name = "relays"; driver = "gpio"; chip = "%s"; every_s = 0.5; }'


def lamp(chip="relays", line="SHELF_A", extra=""):
    return config([BUS % chip],
                  ['{ name = "contact"; bus = "relays"; kind = "switch"; line = "%s"; %s }' % (line, extra)],
                  [fixture("bar", switch="contact")], [space("lettuce", ["bar"])])


def life_of_a_line():
    with VM() as vm:
        gpio_bank(vm, "relays", ["SHELF_A", "SHELF_B"])
        vm.trace("gpio")
        daemon = Daemon(vm, lamp()).start()
        check("start: the pin closes in the lit day", until(lambda: pin(vm, 0) == 1, 20), daemon.log)
        values = [text.split()[-1] for _, event, text in vm.traced() if event == "gpio_value"]
        check("start: the pin was asked for open, then closed, nothing between",
              "".join(values).lstrip("0").strip("1") == "" and values[0] == "0", values)
        check("in service gpioinfo names us", "lampwarden" in vm.must("gpioinfo relays | grep SHELF_A"))
        daemon.stop()
        check("after a stop the pin is open", pin(vm, 0) == 0)


life_of_a_line()
done()
