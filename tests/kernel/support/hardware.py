# SPDX-License-Identifier: Apache-2.0
"""Simulated hardware in the machine, each behind the kernel's own driver.

    gpio_bank(vm, "relays", ["SHELF_A", "SHELF_B"])     gpio-sim: a chip with label and line names
    pin(vm, "relays", 0)                                the level that the pin has: 0 or 1
    pwm_chip(vm)                                        pca9685 on i2c-stub: 16 channels
    pwm_counts(vm, 3)                                   its registers: ON and OFF counts of 4096
    chips(vm, "mcp4725@60:mcp4725", ...), chips_end(vm) chips of guest/chips.c, any I2C driver; the bus goes
    chip_log(vm, 0x60)                                  what was transferred, byte by byte
    thermometer(vm), set_thermometer(vm, 41.5)          lm75 on i2c-stub → hwmon
    one_wire(vm, 2), set_one_wire(vm, [21.5, 85.0])     DS18B20s → hwmon w1_slave_temp
    one_wire_mask(vm, "absent", 1)                      the first one unplugged

The path of i2cget and i2cset is written out because busybox's shell prefers its own to Debian's.

I2C chips of i2c-stub share one adapter: pass all addresses in the first call of i2c_stub.
"""
from machine import MachineError, until


def gpio_bank(vm, label, names, name="bank"):
    """A chip of its own in gpio-sim; live at once. Returns the folder of its pins."""
    vm.must("load gpio-sim")
    folder = "/sys/kernel/config/gpio-sim/%s" % name
    lines = "".join("mkdir {0}/bank0/line{1}; echo {2} > {0}/bank0/line{1}/name\n".format(folder, i, n)
                    for i, n in enumerate(names) if n)
    vm.must("mkdir -p {0}/bank0; echo {1} > {0}/bank0/num_lines; echo {2} > {0}/bank0/label\n{3}"
            "echo 1 > {0}/live".format(folder, len(names), label, lines))
    return pins(vm, name)


def pins(vm, name="bank"):
    folder = "/sys/kernel/config/gpio-sim/%s" % name
    return "/sys/devices/platform/%s" % vm.must("echo $(cat %s/dev_name)/$(cat %s/bank0/chip_name)"
                                                % (folder, folder))


def gpio_remove(vm, name="bank"):
    vm.must("cd /sys/kernel/config/gpio-sim; echo 0 > {0}/live; rmdir {0}/bank0/line* {0}/bank0 {0}".format(name))


def pin(vm, offset, name="bank"):
    return int(vm.must("cat %s/sim_gpio%d/value" % (pins(vm, name), offset)))


def pull(vm, offset, up, name="bank"):
    """The resistor outside: what an undriven pin does."""
    vm.must("echo pull-%s > %s/sim_gpio%d/pull" % ("up" if up else "down", pins(vm, name), offset))


def i2c_stub(vm, addresses=(0x40, 0x48)):
    vm.must("load i2c-dev; load i2c-stub chip_addr=%s" % ",".join("0x%02x" % a for a in addresses))


def i2c_new(vm, driver, address):
    vm.must("load %s; echo %s 0x%02x > /sys/bus/i2c/devices/i2c-0/new_device"
            % ({"pca9685": "pwm-pca9685"}.get(driver, driver), driver, address))


def i2c_remove(vm, address):
    vm.must("echo 0x%02x > /sys/bus/i2c/devices/i2c-0/delete_device" % address)


def pwm_chip(vm, address=0x40):
    """The chip's folder in /sys/class/pwm. Its device path ends in 0-0040."""
    i2c_new(vm, "pca9685", address)
    return vm.must("for c in /sys/class/pwm/pwmchip*; do case $(readlink -f $c/device) in "
                   "*/0-%04x) echo $c;; esac; done" % address)


def pwm_counts(vm, channel, address=0x40):
    """NXP PCA9685 data sheet, 7.3.3: LEDn_ON and LEDn_OFF, 12 bits each and the bit 'full'.
    → (on, off, full_on, full_off)"""
    base = 0x06 + 4 * channel
    low_on, high_on, low_off, high_off = (
        int(v, 16) for v in vm.must("for r in %s; do /bin/i2cget -y -f 0 0x%02x $r; done" % (
            " ".join("0x%02x" % (base + i) for i in range(4)), address)).split())
    return (low_on | (high_on & 0x0f) << 8, low_off | (high_off & 0x0f) << 8,
            bool(high_on & 0x10), bool(high_off & 0x10))


def pwm_share(vm, channel, address=0x40):
    """The share of the period that the chip's output is high, from its registers."""
    on, off, full_on, full_off = pwm_counts(vm, channel, address)
    if full_off:
        return 0.0
    return 1.0 if full_on else ((off - on) % 4096) / 4096


def chips(vm, *what, folder="/run/chips"):
    """Starts the chips, waits until the kernel's drivers are bound."""
    drivers = [w.split(":")[1] for w in what if ":" in w]
    loads = "".join("load %s; " % {"pca9685": "pwm-pca9685"}.get(d, d) for d in drivers)
    vm.must("load i2c-dev; load vi2c; %s mkdir -p %s; chips %s %s > %s/err 2>&1 &"
            % (loads, folder, folder, " ".join(what), folder))
    if not until(lambda: int(vm.must("ls -d /sys/bus/i2c/devices/*-00*/driver 2>/dev/null | wc -l"))
                 >= len(drivers)):
        raise MachineError("chips: " + vm.must("cat %s/err; dmesg | tail -5" % folder))
    return folder


def chips_end(vm):
    """The bus goes with everything on it."""
    vm.must("kill $(pidof chips)")
    if not until(lambda: not vm.sh("pidof chips").ok):
        raise MachineError("chips: still there")


def chip_log(vm, address, folder="/run/chips"):
    """The transactions of one chip: ["w 0f a0 = 0", …]."""
    lines = vm.sh("grep '^[0-9.]* %02x ' %s/log" % (address, folder)).out.splitlines()
    return [line.split(" ", 2)[2] for line in lines]


def thermometer(vm, address=0x48):
    i2c_new(vm, "lm75", address)
    set_thermometer(vm, 22.0, address)


def set_thermometer(vm, celsius, address=0x48):
    """LM75 register 0: half degrees in the upper nine bits, big-endian on the wire."""
    word = (round(celsius * 2) & 0x1ff) << 7
    vm.must("/bin/i2cset -y -f 0 0x%02x 0 0x%04x w" % (address, (word & 0xff) << 8 | word >> 8))


def one_wire(vm, count=1):
    """The probes' names: 28-0cff7f464b01, …"""
    vm.must("load w1_therm; load vw1 count=%d" % count)
    found = "ls /sys/bus/w1/devices | grep ^28-"
    if not until(lambda: len(vm.sh(found).out.split()) == count, 20):
        raise MachineError("one_wire: " + vm.sh(found).out)
    return vm.must(found).split()


def set_one_wire(vm, celsius):
    vm.must("echo %s > /sys/module/vw1/parameters/milli" % ",".join(str(round(c * 1000)) for c in celsius))


def one_wire_mask(vm, fault, mask):
    """"absent", "corrupt" or "unpowered": one bit a probe, the first is 1."""
    vm.must("echo %d > /sys/module/vw1/parameters/%s" % (mask, fault))
