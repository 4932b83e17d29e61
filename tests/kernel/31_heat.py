#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Heat: temperatures that the kernel's own drivers measure hold the light down and open the contact.

Sources: kernel documentation, hwmon/sysfs-interface.rst (temp1_input in millidegrees), hwmon/lm75.rst,
w1/slaves/w1_therm.rst; Maxim, DS18B20 data sheet: 85 °C stands in the scratchpad after power-on, before the first
conversion. What the light does is read from the pins: the PCA9685's registers and gpio-sim.

The foldback is a straight line from full light at 58 °C to a tenth at 70 °C; the trip opens the contact at 80 °C.
"""
import os
import sys

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "support"))
from checks import check, done                                                 # noqa: E402
from daemon import Daemon, config, fixture, space                              # noqa: E402
from hardware import (gpio_bank, i2c_new, i2c_remove, i2c_stub, one_wire, one_wire_mask, pin,  # noqa: E402
                      pwm_share, set_one_wire, set_thermometer, thermometer)
from machine import VM, together, until                                        # noqa: E402

BUSES = ['{ name = "relays"; driver = "gpio"; chip = "relays"; every_s = 0.5; }',
         '{ name = "pwm"; driver = "pwm"; device = "0-0040"; every_s = 0.5; }',
         '{ name = "heat"; driver = "hwmon"; every_s = 0.5; }']
OUTPUTS = ['{ name = "contact"; bus = "relays"; kind = "switch"; line = "SHELF_A"; }',
           '{ name = "dim"; bus = "pwm"; kind = "dim"; channel = 0; }']
HEAT = 'heat_sensors = [ %s ]; heat = { foldback_from_c = 58.0; foldback_to_c = 70.0; foldback_level = 0.1; ' \
       'trip_c = 80.0; rearm_c = 55.0; filter_s = 0.3; rise_percent_per_min = %.1f; sensor_lost_s = %.1f; };'


def lamp(sensors, lost_s, rise_percent_per_min, blind_s=4.0):
    """One lamp with a contact and a dimmed line; sensors: (name, chip, device)."""
    listed = ['{ name = "%s"; bus = "heat"; kind = "temperature"; chip = "%s"; device = "%s"; channel = "temp1"; '
              'stale_s = 4.0; lost_s = %.1f; }' % (*s, lost_s) for s in sensors]
    names = ", ".join('"%s"' % s[0] for s in sensors)
    return config(BUSES, OUTPUTS, [fixture("bar", "dim", "contact", HEAT % (names, rise_percent_per_min, blind_s))],
                  [space("lettuce", ["bar"])], sensors=listed)


def allowed(celsius):
    """The straight line, in photons; our curve makes it the drive as well."""
    return min(1.0, max(0.1, 1.0 - 0.9 * (celsius - 58.0) / (70.0 - 58.0)))


def shines(vm, level, seconds=20, within=0.005):
    return until(lambda: pin(vm, 0) == 1 and abs(pwm_share(vm, 0) - level) <= within, seconds)


def is_dark(vm, seconds=20):
    return until(lambda: pin(vm, 0) == 0 and pwm_share(vm, 0) == 0, seconds)


def detail(vm, daemon):
    return lambda: (pin(vm, 0), pwm_share(vm, 0), daemon.fixture("bar"), daemon.log())


def a_machine():
    vm = VM()
    i2c_stub(vm, (0x40, 0x48, 0x49))
    i2c_new(vm, "pca9685", 0x40)
    gpio_bank(vm, "relays", ["SHELF_A"])
    return vm


def heatsink_gets_hot():
    with a_machine() as vm:
        thermometer(vm)
        daemon = Daemon(vm, lamp([("heatsink", "lm75", "0-0048")], 6.0, 60.0)).start()
        daemon.hold("lettuce", 1.0)
        check("lm75: at 22 °C the light is full", shines(vm, 1.0), detail(vm, daemon))
        for celsius in (57.5, 61.0, 67.5, 70.0, 75.0):
            set_thermometer(vm, celsius)
            check("lm75: at %.1f °C at most %.1f %%" % (celsius, 100 * allowed(celsius)),
                  shines(vm, allowed(celsius)), detail(vm, daemon))
        set_thermometer(vm, 80.0)
        check("lm75: at 80 °C the contact opens and the line goes to its safe drive", is_dark(vm), detail(vm, daemon))
        check("… by heat-trip", daemon.fixture("bar")["limiter"] == "heat-trip", detail(vm, daemon))
        set_thermometer(vm, 56.0)
        check("lm75: at 56 °C it does not come back yet",
              not until(lambda: pin(vm, 0) == 1, 4), detail(vm, daemon))
        set_thermometer(vm, 50.0)
        check("lm75: below 55 °C the contact closes", until(lambda: pin(vm, 0) == 1, 20), detail(vm, daemon))
        first = pwm_share(vm, 0)
        check("… and the light comes back from little", first <= 0.25, first)
        check("… slowly: 1 % in a second", until(lambda: pwm_share(vm, 0) >= 0.2, 30) and pwm_share(vm, 0) < 0.4)

        i2c_remove(vm, 0x48)
        check("lm75 taken away: the lamp counts as hot, the contact opens", is_dark(vm), detail(vm, daemon))
        thermometer(vm, 0x49)                                # another one takes the number that was free
        i2c_new(vm, "lm75", 0x48)
        check("lm75 put back under another number: the lamp is lit again by itself",
              until(lambda: pin(vm, 0) == 1, 40), detail(vm, daemon))
        daemon.stop()


def probes_lie():
    with a_machine() as vm:
        first, second = one_wire(vm, 2)
        set_one_wire(vm, [30.0, 31.0])
        # Nine bits are enough here and take an eighth of the time (w1_therm.rst, resolution).
        vm.must("for d in /sys/bus/w1/devices/28-*; do echo 9 > $d/resolution; done")
        probes = [("probe_1", "w1_slave_temp", first), ("probe_2", "w1_slave_temp", second)]
        daemon = Daemon(vm, lamp(probes, 16.0, 600.0, blind_s=6.0)).start()
        daemon.hold("lettuce", 1.0)
        check("1-Wire: at 31 °C the light is full", shines(vm, 1.0, 30), detail(vm, daemon))
        set_one_wire(vm, [30.0, 64.0])
        check("1-Wire: the hotter of two probes rules", shines(vm, allowed(64.0), 30), detail(vm, daemon))
        set_one_wire(vm, [30.0, 56.0])
        check("1-Wire: and lets the light come back", shines(vm, 1.0, 60), detail(vm, daemon))

        one_wire_mask(vm, "unpowered", 1)
        said = vm.must("cat /sys/bus/w1/devices/%s/hwmon/hwmon*/temp1_input" % first)
        check("1-Wire: a probe that lost its power says 85 °C", said == "85000", said)
        check("… which is not believed: full light by the other one",
              not until(lambda: pin(vm, 0) == 0 or pwm_share(vm, 0) < 1, 8), detail(vm, daemon))
        one_wire_mask(vm, "unpowered", 3)
        check("1-Wire: both say 85 °C: nothing is known, the contact opens", is_dark(vm, 30), detail(vm, daemon))
        check("… and what they go on saying is heat in the end",
              until(lambda: daemon.fixture("bar")["heat_c"] == 85.0, 40), detail(vm, daemon))
        one_wire_mask(vm, "unpowered", 0)
        set_one_wire(vm, [30.0, 50.0])
        check("1-Wire: with power again it is lit", until(lambda: pin(vm, 0) == 1, 40), detail(vm, daemon))

        one_wire_mask(vm, "absent", 2)
        check("1-Wire: one probe unplugged: the other goes on", not until(lambda: pin(vm, 0) == 0, 8),
              detail(vm, daemon))
        one_wire_mask(vm, "corrupt", 1)
        check("1-Wire: and the other's checksum wrong: the contact opens", is_dark(vm, 30), detail(vm, daemon))
        one_wire_mask(vm, "absent", 0)
        one_wire_mask(vm, "corrupt", 0)
        check("1-Wire: both well again: it is lit", until(lambda: pin(vm, 0) == 1, 60), detail(vm, daemon))
        for celsius in (60.0, 72.0, 83.0):
            set_one_wire(vm, [30.0, celsius])
            until(lambda: (daemon.fixture("bar")["heat_c"] or 0) == celsius, 20)
        check("1-Wire: a probe led up to 83 °C opens the contact", is_dark(vm), detail(vm, daemon))
        set_one_wire(vm, [30.0, 85.0])
        check("1-Wire: 85 °C that was led up to is believed",
              until(lambda: daemon.fixture("bar")["heat_c"] == 85.0), detail(vm, daemon))
        daemon.stop()


together(heatsink_gets_hot, probes_lie)
done()
