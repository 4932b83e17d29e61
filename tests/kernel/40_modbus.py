#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Modbus RTU through the kernel's own serial drivers, against slaves that misbehave.

Two lines: /dev/ttyS1, a 16550, and a USB adapter (ftdi_sio) by the name of its place. Registers hold
unit * 256 + address, so that a value under a wrong point shows. What the daemon shows and what it
stores is compared with that, after every fault.

Frames and exceptions: Modbus over Serial Line V1.02, Modbus Application Protocol V1.1b3, 6 and 7.
"""
import json
import os
import socket
import struct
import sys
import tempfile
import threading
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "support"))
from checks import check, done                                                 # noqa: E402
from daemon import Daemon, config, fixture, space                              # noqa: E402
from machine import VM, until                                                  # noqa: E402
from rtu_slave import crc16                                                    # noqa: E402

TIMEOUT_S, WORST_S = 0.25, 0.8
PLACE = "/dev/serial/by-path/pci-0000:00:04.0-usb-0:1:1.0-port0"


class Line:
    """The slaves of one line, and what the line was asked: [(seconds, frame)]."""

    def __init__(self, path, *units):
        self.units = units
        self.fault, self.asked, self.hurt = None, [], 0
        self.coils, self.registers = {}, {}
        self.lock = threading.Lock()
        self.sock = socket.socket(socket.AF_UNIX)
        self.sock.connect(path)
        threading.Thread(target=self._serve, daemon=True).start()

    def hurts(self, kind, value):
        """The next answer suffers it."""
        with self.lock:
            self.fault = kind, value

    def writes(self):
        return [frame for _, frame in list(self.asked) if frame[1] in (5, 6, 16)]

    def _serve(self):
        buf, heard = b"", 0.0
        while True:
            try:
                data = self.sock.recv(256)
            except OSError:
                return
            if not data:
                return
            now = time.monotonic()
            buf = data if now - heard > 0.2 else buf + data     # a silence ends a frame
            heard = now
            if len(buf) >= 8:
                frame, buf = buf[:8], buf[8:]
                if crc16(frame[:6]) == frame[6:]:
                    self.asked.append((now, frame))
                    if frame[0] in self.units:
                        self._answer(frame)

    def _body(self, frame):
        function, address, value = frame[1], *struct.unpack(">HH", frame[2:6])
        if function in (3, 4):
            words = [self.registers.get((frame[0], address + i), (frame[0] << 8) + address + i) for i in range(value)]
            return bytes([function, 2 * value]) + struct.pack(">%dH" % value, *words)
        if function == 1:
            return bytes([1, 1, self.coils.get((frame[0], address), 0)])
        if function == 5:
            self.coils[(frame[0], address)] = int(value == 0xff00)
        elif function == 6:
            self.registers[(frame[0], address)] = value
        else:
            return bytes([function | 0x80, 1])
        return frame[1:6]

    def _answer(self, frame):
        with self.lock:
            (kind, value), self.fault = self.fault or (None, 0), None
            self.hurt += kind is not None
        body, unit = self._body(frame), frame[0]
        if kind == "exception":
            body = bytes([frame[1] | 0x80, value])
        elif kind in ("short", "long"):     # well framed, another length than was asked for
            body = body[:-2] if kind == "short" else body + b"\x01\x02"
            if frame[1] in (3, 4):
                body = bytes([body[0], len(body) - 2]) + body[2:]
        elif kind == "unit":
            unit += 1
        out = bytes([unit]) + body
        out += crc16(out)
        if kind == "crc":
            out = out[:-1] + bytes([out[-1] ^ 0x55])
        elif kind == "noise":
            out = b"\x00\xff\x55\xaa" + out
        elif kind == "echo":
            out = frame + out
        elif kind == "twice":
            out += out
        elif kind == "half":
            out = out[:len(out) // 2]
        if kind == "silent":
            return
        if kind == "late":          # others may be asked meanwhile
            threading.Timer(value, self._send, [out]).start()
        elif kind == "drip":
            for i, byte in enumerate(out):
                threading.Timer(value * (i + 1), self._send, [bytes([byte])]).start()
        else:
            self._send(out)

    def _send(self, data):
        try:
            self.sock.sendall(data)
        except OSError:
            pass


def bus(name, device, more=""):
    return ('{ name = "%s"; driver = "modbus-rtu"; device = "%s"; baud = 115200; %s every_s = 0.2; '
            'timeout_ms = %d; worst_reply_ms = %d; }' % (name, device, more, TIMEOUT_S * 1000, WORST_S * 1000))


# name: kind, bus, unit, register, scale. Each must show (unit * 256 + register) * scale.
SENSORS = {"light": ("ppfd", "line", 1, 20, 1.0), "air": ("temperature", "line", 1, 5, 0.1),
           "humidity": ("humidity", "line", 2, 7, 0.1), "heatsink": ("temperature", "usb", 4, 1, 0.025)}
SHOWN = {"ppfd_umol": "light", "air_c": "air", "humidity_percent": "humidity", "heat_c": "heatsink"}


def expected(name):
    _, _, unit, register, scale = SENSORS[name]
    return (unit * 256 + register) * scale


def lamp():
    """Contact and dimming line hang on the USB adapter; their unit tells who it is by register 100."""
    sensors = ['{ name = "%s"; kind = "%s"; bus = "%s"; unit = %d; register = %d; scale = %g; jump_per_s = 0.0; '
               'frozen_s = 0.0; stale_s = 2.0; lost_s = 3.0; }' % (name, *what) for name, what in SENSORS.items()]
    identity = "identity_register = 100; identity_value = 1124;"
    outputs = ['{ name = "line_dim"; bus = "usb"; kind = "dim"; unit = 4; register = 50; full = 10000; %s }' % identity,
               '{ name = "contact"; bus = "usb"; kind = "switch"; unit = 4; coil = 3; }']
    bar = fixture("bar", "line_dim", "contact", 'heat_sensors = [ "heatsink" ];')
    shelf = space("lettuce", ["bar"], 'ppfd_sensors = [ "light" ]; air_temperature = "air"; air_humidity = "humidity";')
    return config([bus("line", "/dev/ttyS1"), bus("usb", PLACE, 'parity = "none"; stop_bits = 2;')], outputs, [bar], [shelf], sensors)


# What the next answer of the 16550's line and of the USB line suffers. Times in timeouts.
FAULTS = [
    (("late", 0.8), ("late", 0.8)), (("late", 1.2), ("late", 1.2)), (("late", 3.0), ("late", 3.0)),
    (("drip", 0.2), ("drip", 0.2)), (("silent", 0), ("echo", 0)), (("unit", 0), ("crc", 0)),
    (("short", 0), ("noise", 0)), (("half", 0), ("twice", 0)), (("echo", 0), ("long", 0)),
    (("exception", 6), ("exception", 2)),
]
HARMLESS = ("exception", "late 0.8")


def one_fault(line, fault):
    """Hurts one answer. Returns the index of its request, None: no request came."""
    kind, value = fault
    hurt = line.hurt
    line.hurts(kind, value if kind == "exception" else value * TIMEOUT_S)
    return len(line.asked) - 1 if until(lambda: line.hurt > hurt, 8, 0.01) else None


def rest_after(line, index):
    """Seconds from that request to the next; needs one."""
    return line.asked[index + 1][0] - line.asked[index][0]


def answers_all(line, index, registers):
    """True when all of these were asked again since, twice."""
    later = [struct.unpack(">H", frame[2:4])[0] for _, frame in line.asked[index + 1:] if frame[1] in (3, 4)]
    return all(later.count(register) >= 2 for register in registers)


def all_faults(line, usb):
    for pair in FAULTS:
        names = ["%s %g" % fault if fault[1] else fault[0] for fault in pair]
        began = [one_fault(where, fault) for where, fault in zip((line, usb), pair)]
        back = None not in began and until(
            lambda: answers_all(line, began[0], (5, 7, 20)) and answers_all(usb, began[1], (1,)), 10)
        check("%s on ttyS1, %s on ttyUSB0: all registers are read again" % tuple(names), back, began)
        for name, where, index in zip(names, (line, usb), began):
            if back and not name.startswith(HARMLESS):
                rest = rest_after(where, index)
                check("  %s: the line is left alone for %.1f s" % (name, rest), rest >= WORST_S, rest)


def look(vm):
    """Writes down what the daemon shows, all the time."""
    vm.must("touch /run/look; (while [ -e /run/look ]; do lampwarden status --json >> /run/shown; "
            "lampwarden sense --json >> /run/sensed; sleep 0.2; done; touch /run/looked) 2>/dev/null &")


def shown(vm):
    """{field: [values]} that it showed; null is left out."""
    vm.must("rm /run/look; until [ -e /run/looked ]; do sleep 0.05; done")
    values = {field: [] for field in SHOWN}
    for text in vm.must("cat /run/shown").splitlines():
        a_space = json.loads(text)["spaces"][0]
        for field in SHOWN:
            value = a_space["fixtures"][0][field] if field == "heat_c" else a_space[field]
            if value is not None and not (field == "ppfd_umol" and a_space["ppfd_quality"] == "lost"):
                values[field].append(value)
    return values


def check_raw(vm):
    """The registers as they stood on the wire, of each sensor at each look; "": it said nothing."""
    seen = {name: set() for name in SENSORS}
    for text in vm.must("cat /run/sensed").splitlines():
        for a_sensor in json.loads(text)["sensors"]:
            seen[a_sensor["sensor"]].add(a_sensor["raw"] or "")
    for name, (_, _, unit, register, _) in SENSORS.items():
        wanted = "0x%04X" % (unit * 256 + register)
        check("sensed %s: raw is %s or nothing" % (name, wanted),
              wanted in seen[name] and seen[name] <= {wanted, ""}, seen[name])


def scan(vm):
    """Units 1 and 2 answer on the 16550's line; nobody at 3 and 4. The lamps and sensors go on meanwhile."""
    said = vm.sh("lampwarden sense --scan line --to 4 --json").out
    found = [what["address"] for what in json.loads(said)["found"]]
    check("a scan finds the units of the line", found == [1, 2], said)


def check_values(what, values):
    for field, name in SHOWN.items():
        wrong = [value for value in values[field] if abs(value - expected(name)) > 1e-3]
        check("%s %s: %d times, always %g" % (what, field, len(values[field]), expected(name)),
              values[field] and not wrong, wrong)


def check_settings(vm):
    """stty(1) of busybox reads what the kernel was told: even parity is the standard's default (Modbus over
    Serial Line V1.02, 2.5.1), two stop bits replace it."""
    for device, wanted in (("ttyS1", ("speed 115200", "parenb -parodd", "cs8", "-cstopb", "-icanon", "-echo ")),
                           ("ttyUSB0", ("speed 115200", "-parenb", "cs8", " cstopb", "-icanon", "-echo "))):
        # "; true": as the shell's last word stty would lead a session, whose end hangs the line up
        said = vm.must("stty -a -F /dev/%s; true" % device)
        check("%s: %s" % (device, ", ".join(word.strip() for word in wanted)), all(word in said for word in wanted), said)
    # tty_ioctl(4), TIOCEXCL: nobody but root opens the line now
    vm.must("chmod 755 / ; chmod 666 /dev/ttyS1; echo nobody:x:65534:65534::/:/bin/sh >> /etc/passwd")
    said = vm.sh("su nobody -c ': < /dev/ttyS1' 2>&1; true").out
    check("ttyS1: another program is refused", "busy" in said, said)


def usb_state(daemon):
    return [a_bus for a_bus in daemon.status()["buses"] if a_bus["bus"] == "usb"][0]


def plug(vm, chardev, name):
    vm.qmp("device_add", driver="usb-serial", chardev=chardev, id=name, bus="xhci.0", **{"always-plugged": True})


def replug(vm, daemon, usb, stranger):
    """Pulled; another adapter under its name; then itself again under another number."""
    vm.qmp("device_del", id="usbser")
    check("pulled: the bus is lost", until(lambda: not usb_state(daemon)["connected"], 10), daemon.log)
    check("pulled: the lamp's output is in fault",
          until(lambda: daemon.fixture("bar")["output_fault"], 10), daemon.log)
    plug(vm, "u1", "other")
    check("another adapter takes its number, and the name leads there",
          until(lambda: stranger.asked, 20), lambda: daemon.log() + vm.sh("ls -l /dev/ttyUSB*").out)
    check("it is found out: another device answers",
          until(lambda: "another device answers" in (usb_state(daemon)["last_error"] or ""), 10), daemon.log)
    written = len(usb.writes())
    plug(vm, "u0", "usbser2")
    check("its own adapter comes back as ttyUSB1", until(lambda: vm.sh("ls /dev/ttyUSB1").ok, 10))
    vm.must("ln -sfn ../../ttyUSB1 %s" % PLACE)
    check("by the name of its place it is found again", until(lambda: usb_state(daemon)["connected"], 20), daemon.log)
    check("the lamp comes on again", until(lambda: usb.coils.get((4, 3)) == 1, 20), daemon.log)
    first = usb.writes()[written:written + 2]
    check("first words to it: contact open, then dimming line down",
          [frame[1:6] for frame in first] == [b"\x05\x00\x03\x00\x00", b"\x06\x00\x32\x00\x00"], first)
    check("the stranger was never driven", not stranger.writes(), stranger.writes)


def main():
    with tempfile.TemporaryDirectory() as folder:
        ends = [os.path.join(folder, "usb%d.sock" % i) for i in range(2)]
        extra = ["-device", "qemu-xhci,id=xhci"]
        for i, end in enumerate(ends):
            extra += ["-chardev", "socket,id=u%d,server=on,wait=off,path=%s" % (i, end)]
        extra += ["-device", "usb-serial,chardev=u0,id=usbser,bus=xhci.0,always-plugged=on"]
        with VM(serials=1, extra=extra) as vm:
            line, usb, stranger = Line(vm.serial_path(1), 1, 2), Line(ends[0], 4), Line(ends[1], 4)
            stranger.registers[(4, 100)] = 9999
            vm.must("load ftdi_sio; load xhci-pci")
            check("ftdi_sio makes ttyUSB0", until(lambda: vm.sh("ls /dev/ttyUSB0").ok, 15), vm.console)
            vm.must("mkdir -p /dev/serial/by-path; ln -s ../../ttyUSB0 %s" % PLACE)
            daemon = Daemon(vm, lamp()).start()
            check("the lamp is lit through ttyUSB0", until(lambda: usb.coils.get((4, 3)) == 1, 20), daemon.log)
            until(lambda: daemon.status()["spaces"][0]["ppfd_quality"] == "good", 10)
            check_settings(vm)
            look(vm)
            all_faults(line, usb)
            scan(vm)
            replug(vm, daemon, usb, stranger)
            check_values("shown", shown(vm))
            check_raw(vm)
            daemon.stop()
            check("after the stop: contact open, line down",
                  (usb.coils.get((4, 3)), usb.registers.get((4, 50))) == (0, 0))
            rows = vm.must("sqlite3 -readonly -list /data/journal.db 'SELECT ppfd_umol, air_c, humidity_percent, "
                           "heatsink_c FROM minute'").splitlines()
            stored = {field: [float(row.split("|")[i]) for row in rows if row.split("|")[i]]
                      for i, field in enumerate(SHOWN)}
            check_values("stored", stored)
            if "-v" in sys.argv:
                print(daemon.log())


main()
done()
