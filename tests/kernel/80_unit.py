#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""The unit as systemd runs it: a small Debian in the machine, our build installed as the README says.

Sources: systemd.exec(5), systemd.service(5), systemd.resource-control(5), udev(7), adjtimex(2). The light is read from
gpio-sim's pin and the PCA9685's registers, who may write them is decided by our udev rules and the unit's sandbox.
"""
import json
import os
import re
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "support"))
import machine                                                                 # noqa: E402
from checks import check, done                                                 # noqa: E402
from daemon import config, fixture, space                                      # noqa: E402
from hardware import gpio_bank, i2c_stub, pin, pwm_chip, pwm_share             # noqa: E402
from machine import VM, until                                                  # noqa: E402
from rtu_slave import RtuSlave                                                 # noqa: E402

HERE = os.path.dirname(os.path.abspath(__file__))
EXPOSURE_MAX = 2.1
TEXT = config(['{ name = "relays"; driver = "gpio"; chip = "relays"; every_s = 0.5; }',
               '{ name = "pwm"; driver = "pwm"; device = "0-0040"; every_s = 0.5; }',
               '{ name = "usb"; driver = "modbus-rtu"; device = "%s"; baud = 19200; every_s = 1.0; }'],
              ['{ name = "contact"; bus = "relays"; kind = "switch"; line = "SHELF_A"; }',
               '{ name = "dim"; bus = "pwm"; kind = "dim"; channel = 0; }'],
              [fixture("bar", "dim", "contact")],
              [space("lettuce", ["bar"], 'air_temperature = "air"; ')],
              sensors=['{ name = "air"; bus = "usb"; kind = "temperature"; unit = 1; function = 3; register = 0; scale = 0.1; }'],
              tail='journal = { path = "/var/lib/lampwarden/journal.db"; commit_s = 5.0; };\n'
                   'control = { socket = "/run/lampwarden/control"; group = "lampwarden"; };\n'
                   'page = { port = 8414; };\n'
                   'alarm = { commands = ( { name = "told"; command = [ "/usr/bin/tee", "/run/lampwarden/told" ]; },\n'
                   '  { name = "hangs"; command = [ "/bin/sh", "-c", "trap : TERM; while :; do sleep 300; done" ]; '
                   'time_limit_s = 1.0; } ); };\n')


def root_image():
    made = subprocess.run(["sh", os.path.join(HERE, "build_root.sh"), machine.CACHE], stdout=subprocess.PIPE, text=True)
    if made.returncode:
        print(made.stdout.strip())
        sys.exit(made.returncode)
    return made.stdout.split()[-1]


def programs(folder):
    """Our build as it is installed, in a tar file."""
    subprocess.run(["cmake", "--install", os.path.join(machine.BUILD, "kernel", "release")], check=True,
                   stdout=subprocess.DEVNULL, env=dict(os.environ, DESTDIR=os.path.join(folder, "tree")))
    path = os.path.join(folder, "tree.tar")
    # Debian's /lib is a link to /usr/lib: only what we bring goes in, no folder replaces it.
    subprocess.run(["tar", "-C", os.path.join(folder, "tree"), "--owner=0", "--group=0", "-cf", path, "."], check=True)
    return path


def status(vm):
    result = vm.sh("lampwarden status --json")
    return json.loads(result.out) if result.ok else None


def shows(vm, name):
    return vm.must("systemctl show --value -p %s lampwardend" % name)


def log(vm):
    return vm.sh("systemctl status --no-pager -n 0 lampwardend; journalctl -u lampwardend -o cat --no-pager | tail -40").out


def is_lit(vm):
    return pin(vm, 0) == 1 and pwm_share(vm, 0) > 0


def install(vm, folder):
    vm.put(programs(folder), "/run/tree.tar")
    vm.must("tar -C / --keep-directory-symlink -xf /run/tree.tar && systemctl daemon-reload && systemd-sysusers && "
            "systemd-tmpfiles --create && udevadm control --reload && udevadm trigger --subsystem-match=gpio "
            "--subsystem-match=pwm --subsystem-match=iio")
    place = "/dev/serial/by-path"
    check("udev names the adapter by its place", until(lambda: vm.sh("ls " + place).out.strip(), 20), vm.sh("ls /dev").out)
    path = "%s/%s" % (place, vm.must("ls " + place).split()[0])
    vm.put((TEXT % path).encode(), "/etc/lampwarden/lampwarden.conf", 0o644)


def starts(vm):
    check("systemctl start returns after READY", vm.sh("systemctl enable --now lampwardend 2>&1").ok and
          shows(vm, "ActiveState") == "active" and shows(vm, "SubState") == "running", lambda: log(vm))
    pid = shows(vm, "MainPID")
    check("it runs as lampwarden, without capabilities", vm.must("stat -c %%U /proc/%s" % pid) == "lampwarden" and
          "CapEff:\t0000000000000000" in vm.must("cat /proc/%s/status" % pid))
    check("the GPIO line closes, the PWM channel dims", until(lambda: is_lit(vm), 30), lambda: log(vm))
    check("the sensor behind the USB adapter is read",
          until(lambda: status(vm)["spaces"][0]["air_c"] == 23.5, 20), lambda: status(vm))
    out = vm.must("systemd-analyze security --no-pager lampwardend | tail -1")
    exposure = float(re.search(r": ([0-9.]+)", out).group(1))
    print("exposure %.1f" % exposure)
    check("systemd-analyze security: at most %.1f" % EXPOSURE_MAX, exposure <= EXPOSURE_MAX, out)


def shows_the_page(vm):
    ask = r"exec 3<>/dev/tcp/127.0.0.1/8414; printf 'GET /%s HTTP/1.0\r\nHost: localhost\r\n\r\n' >&3; cat <&3"
    for path, word in (("status.json", '"air_c":23.5'), ("day.json?space=lettuce", '"space":"lettuce"')):
        check("the page answers /%s from inside the sandbox" % path, until(
            lambda: word in vm.sh("bash -c \"%s\"" % (ask % path)).out, 90), lambda: log(vm))


def tells(vm):
    check("a command is told of events inside the sandbox", vm.sh("lampwarden alarm --test told").ok and
          "a test of the alarm told" in vm.must("cat /run/lampwarden/told"), lambda: log(vm))
    check("… one that hangs is killed there", "was killed" in vm.sh("lampwarden alarm --test hangs").out, lambda: log(vm))
    names = vm.must("cat /proc/[0-9]*/comm 2>/dev/null || true").split()
    check("… with all that it started", "lampwardend" in names and "sleep" not in names, names)


def knows_the_clock(vm):
    check("the kernel's clock is not synchronised, and it knows", status(vm)["clock"] == "held-over", lambda: status(vm))
    vm.must("/run/clocksync yes")
    check("synchronised (adjtimex): seen through the sandbox",
          until(lambda: status(vm)["clock"] == "synchronised", 10), lambda: status(vm))
    before = status(vm)["time"]
    check("… and it cannot set it itself: no capability", vm.sh("grep -q CapBnd:.0000000000000000 /proc/%s/status"
                                                                % shows(vm, "MainPID")).ok, before)


def bus_is_up(vm):
    return [bus for bus in status(vm)["buses"] if bus["bus"] == "usb"][0]["connected"]


def replug(vm):
    vm.qmp("device_del", id="usbser")
    check("the adapter is pulled: the bus is lost", until(lambda: not bus_is_up(vm), 20), lambda: log(vm))
    check("… the lamp shines on", is_lit(vm))
    vm.qmp("device_add", driver="usb-serial", chardev="u0", id="usbser", bus="xhci.0", port="1", **{"always-plugged": True})
    check("plugged in again: read again, under DeviceAllow=", until(lambda: bus_is_up(vm), 60), lambda: (
        status(vm)["buses"], vm.sh("ls -l /dev/ttyUSB* /dev/serial/by-path; dmesg | tail").out))


def is_killed(vm):
    before = shows(vm, "MainPID")
    vm.must("systemctl kill --kill-whom=main -s KILL lampwardend")
    check("kill -9: the stop step drives the PWM chip dark", until(lambda: pwm_share(vm, 0) == 0, 5, 0.02), lambda: log(vm))
    check("… and the contact is open", pin(vm, 0) == 0)
    check("… ExecStopPost= ended well", until(lambda: re.search(r"status=0", vm.must(
        "systemctl show --value -p ExecStopPost lampwardend")), 5), lambda: shows(vm, "ExecStopPost"))
    check("… it is started again, the lamp comes back", until(
        lambda: shows(vm, "MainPID") not in (before, "0") and is_lit(vm), 40), lambda: log(vm))
    check("… going on from its state", "going on from a state saved" in log(vm), lambda: log(vm))


def hangs(vm):
    before = shows(vm, "MainPID")
    began = time.monotonic()
    vm.must("kill -STOP %s" % before)
    dark = until(lambda: pin(vm, 0) == 0 and pwm_share(vm, 0) == 0, 30)
    dark_s = time.monotonic() - began
    again = until(lambda: shows(vm, "MainPID") not in (before, "0"), 30)
    again_s = time.monotonic() - began
    check("SIGSTOP: the watchdog made it dark after %.1f s, a new one runs after %.1f s" % (dark_s, again_s),
          dark and dark_s < 20 and again and again_s < 25, lambda: log(vm))
    check("… lit again", until(lambda: is_lit(vm), 40), lambda: log(vm))


def ends(vm):
    check("systemctl stop: all dark", vm.sh("systemctl stop lampwardend").ok and pin(vm, 0) == 0 and
          pwm_share(vm, 0) == 0, lambda: log(vm))
    check("… the journal is its own", vm.must("stat -c '%U %a' /var/lib/lampwarden") == "lampwarden 750")


def main():
    image = root_image()
    with tempfile.TemporaryDirectory(prefix="lampwarden-unit-") as folder:
        usb = os.path.join(folder, "usb.sock")
        extra = ["-device", "qemu-xhci,id=xhci", "-chardev", "socket,id=u0,server=on,wait=off,path=" + usb,
                 "-device", "usb-serial,chardev=u0,id=usbser,bus=xhci.0,port=1,always-plugged=on"]
        with VM(initrd=os.path.join(machine.BUILD, "kernel", "plain.cpio"), memory=512, disk=image + ",snapshot=on",
                append="lampwarden.root=/dev/vda systemd.show_status=0", extra=extra, wait=150) as vm:
            print("systemd has started after %.1f s" % vm.boot_seconds)
            slave = RtuSlave(usb)
            slave.holding[0] = 235
            vm.put(os.path.join(machine.BUILD, "kernel", "clocksync"), "/run/clocksync")
            gpio_bank(vm, "relays", ["SHELF_A"])
            i2c_stub(vm, (0x40,))
            pwm_chip(vm)
            for part in (lambda vm: install(vm, folder), starts, shows_the_page, tells, knows_the_clock, replug, is_killed, hangs, ends):
                part(vm)
    done()


main()
