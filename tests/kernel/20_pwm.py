#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Dimming by PWM: the duty that the registers of a PCA9685 hold, not what sysfs says it was told.

Sources: kernel documentation, ABI/testing/sysfs-class-pwm; NXP, PCA9685 data sheet: LEDn_ON and LEDn_OFF are
counts of 4096, bit 4 of their upper halves means always on or always off (7.3.3), the prescale value is
round(25 MHz / (4096 * rate)) - 1 (7.3.5). Registers are read with Debian's i2cget, past the driver.

The chip has no polarity that the kernel's driver would set, so an inverted output is an inverted duty. It has
one period for all channels, and keeps its last duty when the program ends.
"""
import math
import os
import re
import sys

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "support"))
from checks import check, done                                                 # noqa: E402
from daemon import Daemon, config, fixture, space                              # noqa: E402
from hardware import i2c_new, i2c_remove, i2c_stub, pwm_chip, pwm_counts, pwm_share     # noqa: E402
from machine import VM, together, until                                        # noqa: E402

STRAIGHT, INVERTED, RAISED = 3, 7, 12                                          # channels
BUS = '{ name = "pwm"; driver = "pwm"; device = "%s"; channels = %d; every_s = 0.5; }'
DIM = '{ name = "dim_%d"; bus = "pwm"; kind = "dim"; channel = %d; frequency_hz = %.1f; %s }'
EXTRA = {STRAIGHT: "", INVERTED: "inverted = true; ", RAISED: "safe = 0.25; "}
SAFE = {STRAIGHT: 0.0, INVERTED: 1.0, RAISED: 0.25}                            # of the pin, not of the lamp


def lamps(channels, device="0-0040", hz=1000.0, count=17):
    """A space for each channel, named after it. The kernel counts 17: "all LEDs" is one of its own."""
    return config([BUS % (device, count)], [DIM % (c, c, hz, EXTRA[c]) for c in channels],
                  [fixture("bar_%d" % c, dim="dim_%d" % c) for c in channels],
                  [space("shelf_%d" % c, ["bar_%d" % c]) for c in channels])


def a_machine():
    """With one chip that drives, at 0x40, and a place for another."""
    vm = VM()
    i2c_stub(vm, (0x40, 0x41))
    i2c_new(vm, "pca9685", 0x40)
    return vm


def share_of(channel, level):
    return 1.0 - level if channel == INVERTED else level


def prescale(vm, address=0x40):
    return int(vm.must("/bin/i2cget -y -f 0 0x%02x 0xfe" % address), 16)


def shares_written(vm, channel):
    """Every share of the period that the channel's registers had, from the transfers on the bus."""
    base, registers, shares = 0x06 + 4 * channel, [0, 0, 0, 0x10], []
    for _, event, text in vm.traced():
        found = re.search(r"a=040 .* c=([0-9a-f]+) .*\[01-([0-9a-f]+)\]", text)
        place = int(found.group(1), 16) - base if event == "smbus_write" and found else -1
        if 0 <= place < 4:
            registers[place] = int(found.group(2), 16)
        if place == 3:                                       # the last of the four
            on, off = (registers[0] | (registers[1] & 0x0f) << 8, registers[2] | (registers[3] & 0x0f) << 8)
            shares.append(0.0 if registers[3] & 0x10 else 1.0 if registers[1] & 0x10 else (off - on) % 4096 / 4096)
    return shares


def at(vm, channel, share, seconds=20):
    return until(lambda: abs(pwm_share(vm, channel) - share) <= 1 / 4096, seconds)


def detail(vm, daemon, channel):
    return lambda: (pwm_counts(vm, channel), daemon.fixture("bar_%d" % channel), daemon.log())


def sweep(vm, daemon):
    """The kernel rounds a duty up to the next of the chip's 4096 counts."""
    for level in (0.1, 0.2501, 0.5, 0.62, 0.9999, 1.0):
        for channel in (STRAIGHT, INVERTED):
            daemon.hold("shelf_%d" % channel, level)
        for channel in (STRAIGHT, INVERTED):
            share = share_of(channel, level)
            counts = math.ceil(round(4096 * share, 6))
            check("channel %d at %.2f %%: high for %d of 4096 counts" % (channel, 100 * level, counts),
                  until(lambda: pwm_share(vm, channel) == counts / 4096, 20), detail(vm, daemon, channel))


def life_of_a_channel():
    with a_machine() as vm:
        its_life(vm)
        another_frequency(vm)
        wrong_chips(vm)


def its_life(vm):
    vm.trace("smbus")
    daemon = Daemon(vm, lamps(SAFE)).start()
    # Since its reset the chip's pins are low.
    for channel in SAFE:
        shares = shares_written(vm, channel)
        above = [share for share in shares if share > 0]
        check("channel %d goes from low to its safe duty, and nowhere else" % channel,
              above[:1] == [SAFE[channel]][:len(above)] and set(above) <= {SAFE[channel]}, shares)
    check("1000 Hz asked: prescale 5", prescale(vm) == round(25e6 / (4096 * 1000)) - 1 == 5, lambda: prescale(vm))
    sweep(vm, daemon)
    daemon.hold("shelf_%d" % RAISED, 0.7)
    check("the third channel has its own duty", at(vm, RAISED, 0.7), detail(vm, daemon, RAISED))

    daemon.stop()
    for channel, share in SAFE.items():
        check("channel %d is safe after a stop" % channel, pwm_share(vm, channel) == share)
    daemon.start()
    for channel in SAFE:
        daemon.hold("shelf_%d" % channel, 0.6)
    for channel in SAFE:
        check("channel %d goes on after a new start" % channel, at(vm, channel, share_of(channel, 0.6)),
              detail(vm, daemon, channel))
    daemon.signal("KILL")
    until(lambda: not daemon.running())
    for channel in SAFE:
        check("channel %d keeps its duty after kill -9: nobody owns it" % channel,
              at(vm, channel, share_of(channel, 0.6)))
    for turn in ("make-safe", "make-safe twice"):
        result = daemon.make_safe()
        check(turn + " confirms and the registers agree", result.ok and
              all(pwm_share(vm, c) == s for c, s in SAFE.items()), lambda: (result, [pwm_counts(vm, c) for c in SAFE]))


def strangers(vm):
    """Somebody writes into sysfs; the chip goes and comes back under another number."""
    daemon = Daemon(vm, lamps([STRAIGHT, RAISED])).start()
    chip = vm.must("ls -d /sys/bus/i2c/devices/0-0040/pwm/pwmchip*")
    for channel in (STRAIGHT, RAISED):
        daemon.hold("shelf_%d" % channel, 0.5)
        at(vm, channel, 0.5)
    vm.must("echo 900000 > %s/pwm%d/duty_cycle" % (chip, STRAIGHT))
    check("a stranger's duty does not stay", at(vm, STRAIGHT, 0.5, 40), detail(vm, daemon, STRAIGHT))
    vm.must("echo 0 > %s/pwm%d/enable" % (chip, RAISED))
    check("a channel disabled by a stranger runs again", at(vm, RAISED, 0.5, 40), detail(vm, daemon, RAISED))

    i2c_remove(vm, 0x40)
    check("the chip goes: output-fault", until(lambda: daemon.fixture("bar_3")["output_fault"], 40),
          detail(vm, daemon, STRAIGHT))
    pwm_chip(vm, 0x41)                                       # takes the number that was free
    i2c_new(vm, "pca9685", 0x40)
    check("it comes back: the lamp goes on by itself", at(vm, STRAIGHT, 0.5, 60), detail(vm, daemon, STRAIGHT))
    check("under another number", vm.must("ls -d /sys/bus/i2c/devices/0-0040/pwm/pwmchip*") != chip)
    exported = vm.must("ls -d /sys/class/pwm/pwmchip*/pwm*/")
    check("the other chip was left alone", exported.count("pwm%d/" % STRAIGHT) == 1
          and pwm_counts(vm, STRAIGHT, 0x41)[:2] == (0, 0), exported)
    daemon.stop()


def another_frequency(vm):
    """All channels are still exported and enabled at 1000 Hz, and the chip has one period."""
    text = lamps([STRAIGHT, RAISED], hz=500.0)
    daemon = Daemon(vm, text).start(ready=False)
    check("500 Hz after 1000 Hz, with a channel in use that is not ours: told",
          until(lambda: "restart the computer" in daemon.log(), 20), daemon.log)
    check("… and dark", pwm_share(vm, STRAIGHT) == 0.0 and pwm_share(vm, RAISED) <= SAFE[RAISED])
    check("… and the other channel was left alone", pwm_share(vm, INVERTED) == SAFE[INVERTED])
    daemon.stop()
    vm.must("echo %d > /sys/class/pwm/pwmchip0/unexport" % INVERTED)
    daemon = Daemon(vm, text).start()
    check("500 Hz after 1000 Hz: the chip takes it",
          until(lambda: prescale(vm) == round(25e6 / (4096 * 500)) - 1 == 11), daemon.log)
    daemon.hold("shelf_%d" % STRAIGHT, 0.3)
    check("and the duty is right", at(vm, STRAIGHT, 0.3), detail(vm, daemon, STRAIGHT))
    daemon.stop()


def wrong_chips(vm):
    for text, words in ((lamps([STRAIGHT], device="0-0049"), "i2c-0/0-0040"),
                        (lamps([STRAIGHT], count=16), "17 channels, not 16")):
        vm.sh("rm -f /run/daemon.log")
        daemon = Daemon(vm, text).start(ready=False)
        check("a wrong chip is refused: …%s…" % words, until(lambda: words in daemon.log(), 20), daemon.log)
        daemon.stop()


def hard_life():
    with a_machine() as vm:
        strangers(vm)


together(life_of_a_channel, hard_life)
done()
