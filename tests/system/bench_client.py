#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Asks lampwarden-bench everything with pymodbus, then sends it frames that are none.

Usage: bench_client.py tcp PORT | faults PORT | rtu DEVICE
Expected numbers: the device's own register map (lampwarden-bench --help); exception codes and limits: MODBUS
Application Protocol V1.1b3, 6 and 7; gateway exception 0B for a unit that is not there: ibid., 7.
"""
import math
import os
import socket
import struct
import sys
import time

from pymodbus.client import ModbusSerialClient, ModbusTcpClient
from pymodbus.constants import Endian
from pymodbus.payload import BinaryPayloadDecoder

checks = 0


def check(truth, what):
    global checks
    checks += 1
    if not truth:
        sys.exit(f"failed: {what}")


def await_true(condition, what, seconds=15):
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if condition():
            check(True, what)
            return
        time.sleep(0.05)
    sys.exit(f"gave up waiting for: {what}")


def code(answer):
    """0 for an answer, the exception code for an exception, -1 for silence."""
    if not hasattr(answer, "function_code"):
        return -1
    return answer.exception_code if answer.isError() else 0


def real(registers):
    return BinaryPayloadDecoder.fromRegisters(
        registers, byteorder=Endian.Big, wordorder=Endian.Big).decode_32bit_float()


def outputs(client):
    check(code(client.write_register(0, 5500, slave=1)) == 0, "function 6")
    check(client.read_holding_registers(0, 1, slave=1).registers == [5500], "function 3")
    check(code(client.write_registers(0, [10000], slave=1)) == 0, "function 16")
    check(client.read_holding_registers(0, 1, slave=1).registers == [10000], "read-back")
    check(code(client.write_coil(0, True, slave=1)) == 0, "function 5")
    check(client.read_coils(0, 1, slave=1).bits[0] is True, "function 1")
    check(code(client.write_coils(0, [False], slave=1)) == 0, "function 15")
    check(client.read_coils(0, 1, slave=1).bits[0] is False, "read-back of the coil")


def exceptions(client, units):
    check(code(client.write_register(0, 10001, slave=1)) == 3, "drive 10001")
    check(code(client.write_register(1, 1, slave=1)) == 2, "register 1")
    check(code(client.write_registers(0, [1, 2], slave=1)) == 2, "two registers")
    check(code(client.write_coil(1, True, slave=1)) == 2, "coil 1")
    check(code(client.read_coils(0, 2, slave=1)) == 2, "two coils")
    check(code(client.read_input_registers(0, 6, slave=1)) == 2, "input register 5")
    check(code(client.read_input_registers(16, 1, slave=1)) == 2, "input register 16")
    check(code(client.read_holding_registers(1, 1, slave=1)) == 2, "holding register 1")
    check(code(client.read_discrete_inputs(0, 1, slave=1)) == 1, "function 2")
    check(client.read_holding_registers(0, 1, slave=1).registers == [10000], "nothing changed")
    check(client.read_input_registers(9, 1, slave=units).registers == [0x4C57], "identity")
    copies = client.read_holding_registers(109, 1, slave=units).registers
    check(copies == [0x4C57], "identity as a holding register")


def physics(client):
    """Two fixtures over canopy 0: light, heat and watts follow the drive (600 times real time)."""
    for unit in (1, 2):
        check(code(client.write_register(0, 10000, slave=unit)) == 0, "drive")
        check(code(client.write_coil(0, True, slave=unit)) == 0, "switch")

    def lit():
        now = client.read_input_registers(0, 5, slave=1).registers
        return 760 < now[0] / 10 < 880 and now[1] / 10 > 40 and 280 < now[2] / 10 < 320
    await_true(lit, "full light and a warm heatsink")
    block = client.read_input_registers(10, 6, slave=1).registers
    check(760 < real(block[0:2]) < 880, "PPFD as float")
    check(40 < real(block[2:4]) < 90, "heatsink as float")
    check(280 < real(block[4:6]) < 320, "watts as float")
    check(client.read_input_registers(2, 1, slave=3).registers == [0], "the third one is dark")


def faults(client):
    def nan():
        got = client.read_input_registers(10, 2, slave=1)
        return code(got) == 0 and math.isnan(real(got.registers))
    await_true(nan, "PPFD not a number", 30)
    check(client.read_input_registers(0, 1, slave=1).registers == [0xFFFF], "sentinel")
    await_true(lambda: not nan(), "PPFD a number again", 30)
    await_true(lambda: code(client.read_input_registers(0, 1, slave=1)) == -1, "silence", 30)
    await_true(lambda: code(client.read_input_registers(0, 1, slave=1)) == 0, "an answer again", 30)


HOSTILE = [bytes.fromhex(text) for text in (
    "", "00", "0001", "000100000006", "00010000000001", "000100000001 01", "0001000000ff01",
    "00010000ffff0103", "000100010006 010300000001", "0001000000020103", "00010000000301 0300",
    "0001000000060103 00000000", "000100000006 0103 0000007e", "000100000006 0103 ffffffff",
    "000100000006 0106 0000ffff", "000100000006 0105 00001234", "000100000007 0110 0000000102",
    "000100000009 0110 0000000204 0001", "00010000000d 0117 0000000100000001020000", "ff" * 260,
    "000100000006 0003 00000001", "00010000000501 2b0e0100", "0001000000fe01" + "10" * 253, "0a" * 1000)]


def hostile_tcp(port):
    keep = socket.create_connection(("127.0.0.1", port), 5)
    for frame in HOSTILE:
        with socket.create_connection(("127.0.0.1", port), 5) as line:
            line.settimeout(5)
            try:
                line.sendall(frame)
                line.shutdown(socket.SHUT_WR)
                while line.recv(4096):
                    pass
            except TimeoutError:
                sys.exit(f"failed: left hanging after {frame[:20].hex()}")
            except OSError:
                pass  # dropped while we spoke
        check(True, "hostile frame")
    keep.sendall(struct.pack(">HHHBBHH", 7, 0, 6, 1, 4, 9, 1))
    keep.settimeout(5)
    check(keep.recv(100) == bytes.fromhex("000700000005010402 4c57"), "an old client is still served")
    with socket.create_connection(("127.0.0.1", port), 5) as slow:
        slow.sendall(b"\x00\x01")
        slow.settimeout(10)
        check(slow.recv(10) == b"", "a frame that never ends is dropped")


def hostile_rtu(path):
    line = os.open(path, os.O_RDWR | os.O_NOCTTY)
    for frame in HOSTILE:
        os.write(line, frame)
        time.sleep(0.05)  # the silence that ends a frame
    os.close(line)


def tcp(port):
    client = ModbusTcpClient("127.0.0.1", port=port, timeout=1, retries=0)
    check(client.connect(), "connect")
    outputs(client)
    exceptions(client, 3)
    for unit in (0, 4, 255):
        check(code(client.read_coils(0, 1, slave=unit)) == 0x0B, f"unit {unit}")
    physics(client)
    hostile_tcp(port)
    client.close()


def scripted(port):
    client = ModbusTcpClient("127.0.0.1", port=port, timeout=1, retries=0)
    check(client.connect(), "connect")
    faults(client)
    client.close()


def rtu(path):
    client = ModbusSerialClient(path, baudrate=19200, parity="N", stopbits=2, timeout=1, retries=0)
    check(client.connect(), "connect")
    outputs(client)
    exceptions(client, 1)
    check(code(client.read_coils(0, 1, slave=2)) == -1, "another unit is silent")
    client.close()
    hostile_rtu(path)
    check(client.connect(), "connect again")
    outputs(client)
    client.close()


def main():
    kind, where = sys.argv[1:3]
    if kind == "tcp":
        tcp(int(where))
    elif kind == "faults":
        scripted(int(where))
    else:
        rtu(where)
    print(f"{kind}: {checks} checks")


main()
