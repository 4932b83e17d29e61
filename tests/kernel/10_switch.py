#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Switches on GPIO lines: what the pin does, not what the program believes.

The kernel's gpio-sim shows the level of each pin (kernel documentation, admin-guide/gpio/gpio-sim.rst);
its trace event gpio_value tells every change that a driver asked for. Debian's gpioget, gpioset and
gpioinfo are the second opinion.
"""
import os
import sys

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "support"))
from checks import check, done                                                 # noqa: E402
from daemon import Daemon, config, fixture, space                              # noqa: E402
from hardware import gpio_bank, gpio_remove, pin, pull                                  # noqa: E402
from machine import VM, together, until                                        # noqa: E402

BUS = '{ name = "%s"; driver = "gpio"; chip = "%s"; every_s = 0.5; }'
CONTACT = '{ name = "%s"; bus = "%s"; kind = "switch"; line = "%s"; %s }'


def lamp(chip="relays", extra=""):
    return config([BUS % ("relays", chip)], [CONTACT % ("contact", "relays", "SHELF_A", extra)],
                  [fixture("bar", switch="contact")], [space("lettuce", ["bar"])])


def two_lamps(second_bus="relays", second_chip=None):
    buses = [BUS % ("relays", "relays")]
    if second_chip:
        buses.append(BUS % (second_bus, second_chip))
    return config(buses, [CONTACT % ("contact_a", "relays", "SHELF_A", ""),
                          CONTACT % ("contact_b", second_bus, "SHELF_B", "")],
                  [fixture("bar_a", switch="contact_a"), fixture("bar_b", switch="contact_b")],
                  [space("lettuce", ["bar_a"]), space("basil", ["bar_b"])])


def driven(vm, offset):
    """The levels that a line of the bank was driven to, one digit each ("get" events are reads)."""
    base = int(vm.must("for c in /sys/class/gpio/gpiochip*; do [ $(cat $c/label) = relays ] && cat $c/base; done"))
    return "".join(text.split()[-1] for _, event, text in vm.traced()
                   if event == "gpio_value" and text.startswith("%d set " % (base + offset)))


def both_polarities():
    """Two lamps at once: line 0 closes high, line 1 closes low; each with the pull that opens it."""
    contacts = [CONTACT % ("contact_a", "relays", "SHELF_A", ""),
                CONTACT % ("contact_b", "relays", "SHELF_B", "active_low = true;")]
    text = config([BUS % ("relays", "relays")], contacts,
                  [fixture("bar_a", switch="contact_a"), fixture("bar_b", switch="contact_b")],
                  [space("lettuce", ["bar_a"]), space("basil", ["bar_b"])])
    opened, closed = (0, 1), (1, 0)
    with VM() as vm:
        gpio_bank(vm, "relays", ["SHELF_A", "SHELF_B"])
        pull(vm, 1, up=True)
        vm.trace("gpio")
        daemon = Daemon(vm, text).start()

        def are(wanted, seconds=20):
            return until(lambda: (pin(vm, 0), pin(vm, 1)) == wanted, seconds)
        check("both pins close in the lit day", are(closed), daemon.log)
        high, low = driven(vm, 0), driven(vm, 1)
        check("line 0 was driven open from the first moment, then closed once: no other edge",
              high.startswith("0") and high.lstrip("0").strip("1") == "", high)
        check("line 1 (active low) likewise", low.startswith("1") and low.lstrip("1").strip("0") == "", low)
        check("gpioinfo names us as the consumer, and the polarity",
              "lampwarden" in vm.must("gpioinfo relays | grep SHELF_B | grep active-low"))
        check("nobody else can take the line (EBUSY)", "busy" in vm.sh("gpioget relays 0").out.lower())
        daemon.stop()
        check("both open after a stop", are(opened, 1))
        daemon.start()
        check("both closed again after a new start", are(closed), daemon.log)
        daemon.signal("KILL")
        check("kill -9: this kernel lets the lines go, their pulls open them", are(opened, 5))
        vm.trace("gpio")
        result = daemon.make_safe()
        check("make-safe after kill -9 confirms and drives the lines open, nothing else", result.ok and
              set(driven(vm, 0)) == {"0"} and set(driven(vm, 1)) == {"1"}, lambda: (result, vm.traced()))
        # A kernel that keeps a released line driven looks like this: the wrong pull.
        pull(vm, 0, up=True)
        check("make-safe twice is as good", daemon.make_safe().ok)
        vm.sh("rm /run/lampwarden/safe-list")
        check("make-safe finds the list in the state folder too",
              vm.sh("lampwarden-make-safe /data/state/safe-list").ok)


def busy_line():
    with VM() as vm:
        gpio_bank(vm, "relays", ["SHELF_A", "SHELF_B"])
        vm.must("gpioset --mode=signal relays 0=0 > /tmp/hold 2>&1 & echo $! > /tmp/hold.pid")
        until(lambda: "gpioset" in vm.sh("gpioinfo relays").out)
        daemon = Daemon(vm, two_lamps()).start()
        check("a busy line: the other lamp runs", until(lambda: pin(vm, 1) == 1, 20), daemon.log)
        check("a busy line: its fixture is in output-fault",
              until(lambda: daemon.fixture("bar_a")["output_fault"], 40), lambda: daemon.fixture("bar_a"))
        check("a busy line: the log names who holds it", until(lambda: "gpioset" in daemon.log(), 5), daemon.log)
        check("a busy line: the pin was never touched", pin(vm, 0) == 0)
        vm.must("kill $(cat /tmp/hold.pid)")
        check("let go: the lamp comes on by itself", until(lambda: pin(vm, 0) == 1, 40), daemon.log)
        daemon.stop()


def two_chips():
    with VM() as vm:
        for first, second in (("relays", "others"), ("others", "relays")):
            gpio_bank(vm, first, ["SHELF_A", "SHELF_B"], name=first)
            gpio_bank(vm, second, ["SHELF_A", "SHELF_B"], name=second)
            daemon = Daemon(vm, two_lamps("others", "others")).start()
            check("chips registered as %s, %s: each line on its own chip" % (first, second), until(
                lambda: (pin(vm, 0, "relays"), pin(vm, 1, "relays"), pin(vm, 0, "others"), pin(vm, 1, "others"))
                == (1, 0, 0, 1), 20), daemon.log)
            daemon.stop()
            gpio_remove(vm, first)
            gpio_remove(vm, second)


def replugged():
    """The chip goes while its line is held, and another of that label comes."""
    with VM() as vm:
        gpio_bank(vm, "others", ["SHELF_B"], name="others")
        gpio_bank(vm, "relays", ["SHELF_A"])
        daemon = Daemon(vm, lamp("relays")).start()
        check("before the unplug the lamp is on", until(lambda: pin(vm, 0) == 1, 20), daemon.log)
        gpio_remove(vm)
        check("unplugged: output-fault", until(lambda: daemon.fixture("bar")["output_fault"], 40), daemon.log)
        gpio_bank(vm, "relays", ["SHELF_A"], name="again")
        check("plugged in again: the lamp comes on by itself",
              until(lambda: pin(vm, 0, "again") == 1, 60), daemon.log)
        check("and is in no fault", until(lambda: not daemon.fixture("bar")["output_fault"], 40), daemon.log)
        gpio_remove(vm, "again")
        gpio_bank(vm, "relays", ["SHELF_A"], name="third")
        daemon.stop()
        check("a stop right after another replug leaves it open", pin(vm, 0, "third") == 0)


def wrong_labels():
    with VM() as vm:
        gpio_bank(vm, "relays", ["SHELF_A", "SHELF_B"])
        gpio_bank(vm, "twins", ["SHELF_A"], name="twin_1")
        gpio_bank(vm, "twins", ["SHELF_A"], name="twin_2")
        for label, words in (("relais", "relays"), ("twins", "2 GPIO chips")):
            vm.sh("rm -f /run/daemon.log")
            daemon = Daemon(vm, lamp(label)).start(ready=False)
            check("label %s: refused, and the log says why" % label,
                  until(lambda: words in daemon.log(), 20), daemon.log)
            check("label %s: no pin moved" % label,
                  [pin(vm, 0), pin(vm, 0, "twin_1"), pin(vm, 0, "twin_2")] == [0, 0, 0])
            daemon.stop()


together(lambda: (both_polarities(), two_chips()), lambda: (busy_line(), wrong_labels(), replugged()))
done()
