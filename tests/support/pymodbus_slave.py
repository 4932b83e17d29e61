#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""A lamp, its light and its heat behind Modbus, served by pymodbus (Debian: python3-pymodbus).

The slave's protocol code is not this project's: what it accepts and answers checks ours.

    pymodbus_slave.py --tcp [PORT] | --rtu DEVICE   [--dump FILE] [--full UMOL] [--daylight UMOL] [--faults FILE]

Prints "READY PORT" (TCP, PORT 0 takes a free one) or "READY DEVICE". Ends on SIGTERM.

    coil 0              contact, closed = 1
    holding register 0  dimming, 0 ... 10000 mV; light begins at 1000 mV
    input register 0    PPFD in 0.1 umol, unsigned
    input register 1    heatsink in 0.1 C, signed
    input registers 2-3 PPFD as a float, low word first
    input register 4    power in W

--dump writes one line for each write: seconds since the start, "coil" or "register", address, value. The
present outputs are its last lines. PPFD = full * level * contact + daylight, level = (mV - 1000) / 9000
of what was 1000 mV or more; the last digit moves as a real sensor's does.

--faults: when FILE exists, the next answer passes through pymodbus' own hook for wrong answers as its one
line says: "error CODE", "delayed SECONDS", "empty" or "stray BYTES". FILE is taken away then.
"""
import argparse
import asyncio
import os
import random
import signal
import struct
import time

from pymodbus.datastore import (
    ModbusSequentialDataBlock,
    ModbusServerContext,
    ModbusSlaveContext,
)
from pymodbus.pdu import ExceptionResponse
from pymodbus.server.async_io import ModbusSerialServer, ModbusTcpServer
from pymodbus.transaction import ModbusRtuFramer, ModbusSocketFramer

AIR_C, HEAT_K, HEAT_S = 24.0, 20.0, 600.0  # heatsink above air at full light, time constant
FULL_W = 200.0


class Lamp:
    """Contact and dimming in, light, heat and power out."""

    def __init__(self, full_umol, daylight_umol):
        self.full_umol, self.daylight_umol = full_umol, daylight_umol
        self.closed, self.millivolts = False, 0
        self.heat_k, self.stepped = 0.0, time.monotonic()
        self.random = random.Random(1)

    def level(self):
        level = max(0.05, (self.millivolts - 1000) / 9000) if self.millivolts >= 1000 else 0.0
        return min(level, 1.0) if self.closed else 0.0

    def umol(self):
        umol = self.full_umol * self.level() + self.daylight_umol
        return umol * (1 + self.random.uniform(-0.002, 0.002))

    def heatsink_c(self):
        now = time.monotonic()
        share = min(1.0, (now - self.stepped) / HEAT_S)
        self.heat_k += (HEAT_K * self.level() - self.heat_k) * share
        self.stepped = now
        return AIR_C + self.heat_k + self.random.uniform(-0.15, 0.15)

    def watts(self):
        return FULL_W * self.level() + 1


class Outputs(ModbusSequentialDataBlock):
    """One coil or one holding register that drives the lamp and writes down what it was told."""

    def __init__(self, word, drive, dump):
        super().__init__(0, [0])
        self.word, self.drive, self.dump, self.began = word, drive, dump, time.monotonic()

    def setValues(self, address, values):
        super().setValues(address, values)
        value = int(self.values[0])
        self.drive(value)
        if self.dump:
            seconds = time.monotonic() - self.began
            self.dump.write(f"{seconds:.3f} {self.word} {address} {value}\n")


class Sensors(ModbusSequentialDataBlock):
    """Input registers: what the lamp does at the moment of the request."""

    def __init__(self, lamp):
        super().__init__(0, [0] * 5)
        self.lamp = lamp

    def getValues(self, address, count=1):
        umol = self.lamp.umol()
        high, low = struct.unpack(">HH", struct.pack(">f", umol))
        heat = round(self.lamp.heatsink_c() * 10) & 0xFFFF
        self.values = [round(umol * 10), heat, low, high, round(self.lamp.watts())]
        return super().getValues(address, count)


class Faults:
    """The server's response_manipulator: (answer, whether it is bytes already)."""

    def __init__(self, path):
        self.path = path

    def __call__(self, answer):
        try:
            with open(self.path, encoding="ascii") as file:
                kind, *values = file.read().split()
        except FileNotFoundError:
            return answer, False
        os.remove(self.path)
        if kind == "error":
            refusal = ExceptionResponse(answer.function_code, int(values[0]))
            refusal.transaction_id, refusal.unit_id = answer.transaction_id, answer.unit_id
            return refusal, False
        if kind == "delayed":
            time.sleep(float(values[0]))  # it does nothing else meanwhile
        elif kind == "empty":
            answer.should_respond = False
        elif kind == "stray":
            return os.urandom(int(values[0])), True
        return answer, False


def make_context(lamp, dump):
    def switch(value):
        lamp.closed = bool(value)

    def dim(value):
        lamp.millivolts = value

    return ModbusSlaveContext(
        zero_mode=True,
        co=Outputs("coil", switch, dump),
        hr=Outputs("register", dim, dump),
        ir=Sensors(lamp),
        di=ModbusSequentialDataBlock(0, [0]),
    )


async def serve(arguments, slave, faults):
    stop = asyncio.Event()
    asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, stop.set)
    if arguments.rtu:
        context = ModbusServerContext(slaves={1: slave}, single=False)
        server = ModbusSerialServer(
            context, ModbusRtuFramer, port=arguments.rtu, baudrate=19200, parity="N", timeout=0.01,
            response_manipulator=faults,
        )
        await server.start()
        if server.transport is None:
            raise SystemExit(f"cannot open {arguments.rtu}")
        place = arguments.rtu
    else:
        context = ModbusServerContext(slaves=slave, single=True)
        server = ModbusTcpServer(
            context, ModbusSocketFramer, address=("127.0.0.1", arguments.tcp), allow_reuse_address=True,
            response_manipulator=faults,
        )
        place = None
    task = asyncio.create_task(server.serve_forever())
    if place is None:
        await server.serving
        place = server.server.sockets[0].getsockname()[1]
    print(f"READY {place}", flush=True)
    await stop.wait()
    task.cancel()


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    where = parser.add_mutually_exclusive_group(required=True)
    where.add_argument("--tcp", type=int, nargs="?", const=0)
    where.add_argument("--rtu")
    parser.add_argument("--dump")
    parser.add_argument("--faults")
    parser.add_argument("--full", type=float, default=400.0)
    parser.add_argument("--daylight", type=float, default=0.0)
    arguments = parser.parse_args()
    dump = open(arguments.dump, "w", buffering=1, encoding="ascii") if arguments.dump else None
    slave = make_context(Lamp(arguments.full, arguments.daylight), dump)
    faults = Faults(arguments.faults) if arguments.faults else None
    asyncio.run(serve(arguments, slave, faults))


if __name__ == "__main__":
    main()
