#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Callers at the control socket that mean no good: hostile_caller.py SOCKET

Sends what no client should, one kind after the other. After each kind a well-behaved caller must get
its status at once. JSON-RPC 2.0 names the error codes: -32700 for what is not JSON, -32600 for what
is no request, -32601 for an unknown method, -32602 for wrong parameters.
"""
import json
import os
import random
import socket
import sys
import time

DEADLINE_S = 5.0


def connect():
    """A connection; waits for a place in the queue, which the daemon keeps short."""
    until = time.monotonic() + DEADLINE_S
    while True:
        caller = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        caller.settimeout(DEADLINE_S)
        try:
            caller.connect(sys.argv[1])
            return caller
        except BlockingIOError:
            caller.close()
            if time.monotonic() > until:
                raise
            time.sleep(0.05)


def answer_to(data):
    """The first line that comes back, or None when the connection was closed instead."""
    with connect() as caller:
        try:
            caller.sendall(data)
            line = b""
            while not line.endswith(b"\n"):
                piece = caller.recv(65536)
                if not piece:
                    return None
                line += piece
        except (BrokenPipeError, ConnectionResetError):
            return None
    return json.loads(line)


def request(method, params=None, identity=1):
    call = {"jsonrpc": "2.0", "id": identity, "method": method}
    if params is not None:
        call["params"] = params
    return json.dumps(call).encode() + b"\n"


def check_good_caller(after):
    answer = answer_to(request("status"))
    if not answer or "result" not in answer:
        sys.exit(f"after {after}: a good caller got {answer}")
    print(f"{after}: met")


def refused(data, codes, words):
    answer = answer_to(data)
    if answer is None:
        return
    code = answer.get("error", {}).get("code")
    if code not in codes:
        sys.exit(f"{words}: answered {str(answer)[:200]}, expected an error of {codes}")


def not_json():
    for line in (b"\n", b"hello\n", b"{\n", b"\xff\xfe\xfd\n", b'{"a":NaN}\n', b"\0\0\0\0\n", b"]" * 500 + b"\n"):
        refused(line, (-32700, -32600), f"{line[:20]!r}")
    refused(b"[" * 50000 + b"\n", (-32700, -32600), "deep nesting")
    refused(b'{"jsonrpc":"2.0","id":1,"id":2,"method":"status","method":"x"}\n', (-32700, -32600, -32601), "twice")


def no_request():
    for value in (5, None, "status", [], [1, 2], {}, {"method": "status"}, {"jsonrpc": "1.0", "id": 1, "method": "status"},
                  {"jsonrpc": "2.0", "id": 1}, {"jsonrpc": "2.0", "id": 1, "method": 7},
                  {"jsonrpc": "2.0", "id": {"a": 1}, "method": "status"}):
        refused(json.dumps(value).encode() + b"\n", (-32600, -32700), f"{value!r}")


def wrong_words():
    for method in ("", "stop", "STATUS", "status\0", "x" * 5000, "../../etc/passwd", "%s%s%n"):
        refused(request(method), (-32601, -32600, -32700), f"method {method[:20]!r}")
    for params in (5, "x", {"space": 7}, {"space": "x" * 4000}, {"space": "%n%n"}, ["a"] * 1000):
        refused(request("hold", params), (-32602, -32600), f"hold {str(params)[:40]}")
    for level in ("1e999", "-1", "2", '"1"', "null", "[]", "true", "1e-400000"):
        line = b'{"jsonrpc":"2.0","id":1,"method":"hold","params":{"space":"lettuce","level":%s,"seconds":60}}\n'
        refused(line % level.encode(), (-32602, -32600, -32700), f"hold level {level}")


def wrong_scans():
    """The installer's methods: none of these may start a scan."""
    odd = (None, True, -1, 0, 248, 1.5, 1e308, 2**63 - 1, "1", "%n", [], {}, [1] * 500)
    for value in odd:
        for name in ("from", "to"):
            refused(request("scan_start", {"bus": "bench", name: value}), (-32602, -32600), f"scan_start {name} {value!r:.20}")
        refused(request("scan_start", {"bus": value}), (-32602, -32600), f"scan_start bus {value!r:.20}")
        refused(request("scan", {"bus": "bench", "scan": value, "seen": value}), (-32602, -32600, -32001), f"scan {value!r:.20}")
        refused(request("scan_end", {"bus": value, "scan": 1}), (-32602, -32600), f"scan_end {value!r:.20}")
    for method in ("scan", "scan_end"):
        refused(request(method), (-32602,), f"{method} of nothing")
        refused(request(method, {"bus": "bench", "scan": 2**31 - 1}), (-32001,), f"{method} of one that never was")
    refused(request("sense", {"sensor": "x"}), (-32602,), "sense with a parameter")


def endless_line():
    with connect() as caller:
        try:
            for _ in range(512):
                caller.sendall(b"x" * 65536)
            sys.exit("32 MB without a line's end were all taken")
        except (BrokenPipeError, ConnectionResetError, socket.timeout):
            pass


def crowd():
    callers = []
    try:
        for _ in range(300):
            caller = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
            callers.append(caller)
            caller.setblocking(False)
            try:
                caller.connect(sys.argv[1])
                caller.sendall(b'{"jsonrpc":')
            except OSError:
                pass  # the queue is full, or this one was dropped
    finally:
        for caller in callers:
            caller.close()


def deaf():
    """Asks and asks, and never listens."""
    with connect() as caller:
        caller.settimeout(1.0)
        try:
            for _ in range(20000):
                caller.sendall(request("status"))
        except OSError:
            pass
        check_good_caller("a deaf caller still there")


def vanishing():
    for _ in range(200):
        with connect() as caller:
            caller.sendall(request("status"))


def noise():
    seed = int(os.environ.get("LAMPWARDEN_SEED", "1"))
    dice = random.Random(seed)
    good = request("status")
    for _ in range(500):
        line = bytearray(good[:-1])
        for _ in range(dice.randint(1, 8)):
            line[dice.randrange(len(line))] = dice.choice((0, 34, 44, 58, 91, 123, 125, 128, 255, dice.randrange(256)))
        try:
            answer_to(bytes(line).replace(b"\n", b" ") + b"\n")
        except socket.timeout:
            pass  # it may have become a notification, which gets no answer


def main():
    check_good_caller("nothing")
    for kind in (not_json, no_request, wrong_words, wrong_scans, endless_line, crowd, deaf, vanishing, noise):
        kind()
        check_good_caller(kind.__name__)


if __name__ == "__main__":
    main()
