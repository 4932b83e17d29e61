# SPDX-License-Identifier: Apache-2.0
"""A Modbus RTU slave behind a socket (QEMU's end of a 16550).

    slave = RtuSlave(vm.serial_path(1), unit=1)
    slave.holding[0] = 235
    slave.fault = "crc" | "silent" | "slow" | "exception" | "wrong-unit" | "noise" | None

Serves functions 3, 4, 6 and 16 in a thread of its own; slave.log has one
(seconds, request bytes) for each request.
"""
import socket
import struct
import threading
import time


def crc16(data):
    crc = 0xffff
    for b in data:
        crc ^= b
        for _ in range(8):
            crc = (crc >> 1) ^ 0xa001 if crc & 1 else crc >> 1
    return struct.pack("<H", crc)


class RtuSlave:
    def __init__(self, path, unit=1, size=100):
        self.unit, self.fault, self.log, self.delay = unit, None, [], 0.0
        self.holding, self.inputs = [0] * size, [0] * size
        self.sock = socket.socket(socket.AF_UNIX)
        self.sock.connect(path)
        self.sock.settimeout(0.2)
        self._stop = False
        self.thread = threading.Thread(target=self._serve, daemon=True)
        self.thread.start()

    def close(self):
        self._stop = True
        self.thread.join(2)
        self.sock.close()

    def _length(self, buf):
        """Bytes in the request at the start of buf, 0 while that is unknown."""
        if len(buf) < 2:
            return 0
        if buf[1] in (3, 4, 6):
            return 8
        if buf[1] == 16:
            return 9 + buf[6] if len(buf) > 6 else 0
        return 8

    def _serve(self):
        buf = b""
        while not self._stop:
            try:
                data = self.sock.recv(256)
            except socket.timeout:
                buf = b""               # a silence ends a frame
                continue
            except OSError:
                return
            if not data:
                return
            buf += data
            need = self._length(buf)
            if not need or len(buf) < need:
                continue
            frame, buf = buf[:need], buf[need:]
            if crc16(frame[:-2]) != frame[-2:]:
                buf = b""
                continue
            self.log.append((time.monotonic(), frame))
            if frame[0] == self.unit:
                self._answer(frame)

    def _answer(self, f):
        function, address, value = f[1], *struct.unpack(">HH", f[2:6])
        if function in (3, 4):
            table = self.holding if function == 3 else self.inputs
            if address + value > len(table):
                body = bytes([function | 0x80, 2])
            else:
                words = table[address:address + value]
                body = bytes([function, 2 * value]) + struct.pack(">%dH" % value, *words)
        elif function == 6:
            self.holding[address] = value
            body = f[1:6]
        elif function == 16:
            self.holding[address:address + value] = struct.unpack(">%dH" % value, f[7:7 + 2 * value])
            body = f[1:6]
        else:
            body = bytes([function | 0x80, 1])
        if self.fault == "silent":
            return
        if self.fault == "exception":
            body = bytes([function | 0x80, 4])
        unit = self.unit + 1 if self.fault == "wrong-unit" else self.unit
        out = bytes([unit]) + body
        out += crc16(out)
        if self.fault == "crc":
            out = out[:-1] + bytes([out[-1] ^ 0x55])
        if self.fault == "noise":
            out = b"\x00\xff" + out
        if self.fault == "slow":
            time.sleep(0.8)
        time.sleep(self.delay)
        self.sock.sendall(out)
