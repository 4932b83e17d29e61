#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Browsers that mean no good: hostile_browser.py suite|stall|hammer PORT

suite: one kind after the other, beside stalled ones that hold most places; after each kind an honest browser must
get its status at once. stall: holds eight half-open connections until the server ends them. hammer: asks for the status
for 20 s as fast as it is answered, and prints how often that was a second.
Status codes after RFC 9110 (405: 15.5.6, 413: 15.5.14, 421: 15.5.20, 503: 15.6.4), 304 after 13.1.2.
"""
import http.client
import json
import socket
import sys
import threading
import time

PORT = int(sys.argv[2])
HOST = "127.0.0.1:%d" % PORT
IDLE_S = 10.0  # what the server grants a silent connection
REQUEST_S = 10.0  # ... and a request that never ends
ALWAYS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
                               "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
}


def check(holds, words, *facts):
    if not holds:
        sys.exit("FAILED: %s: %s" % (words, " ".join(str(fact)[:400] for fact in facts)))


def dial(timeout=5.0):
    caller = socket.create_connection(("127.0.0.1", PORT), timeout)
    caller.settimeout(timeout)
    return caller


def ask(path, method="GET", headers=None, body=None):
    """(status, headers with small letters, body) over a connection of its own."""
    line = http.client.HTTPConnection("127.0.0.1", PORT, timeout=5)
    try:
        line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        fields = {"Host": HOST, **(headers or {})}
        for name, value in fields.items():
            if value is not None:
                line.putheader(name, value)
        line.endheaders(body)
        answer = line.getresponse()
        return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()
    finally:
        line.close()


def raw(data, timeout=5.0):
    """All that comes back until the server closes or is silent; b"" when it closed at once."""
    with dial(timeout) as caller:
        got = b""
        try:
            caller.sendall(data)
            caller.shutdown(socket.SHUT_WR)
            while piece := caller.recv(65536):
                got += piece
        except OSError as trouble:  # the server has hung up; a silence is none of that
            check(not isinstance(trouble, TimeoutError), "an end within %.0f s" % timeout, data[:40], got[:100])
        return got


def honest(after, within_s=2.0):
    began = time.monotonic()
    status, headers, body = ask("/status.json")
    took = time.monotonic() - began
    check(status == 200 and json.loads(body)["is_ready"], "after %s an honest browser is served" % after, status, body)
    check(took < within_s, "after %s it is served at once" % after, took)
    for name, value in ALWAYS.items():
        check(headers.get(name) == value, "header " + name, headers)


def paths():
    for path in ("/", "/page.js", "/page.css", "/status.json", "/plan.json?space=lettuce", "/day.json?space=lettuce",
                 "/minutes.json?space=lettuce", "/nights.json?space=lettuce", "/events.json", "/metrics"):
        status, headers, body = ask(path)
        check(status == 200 and body, path, status, body)
        check(ALWAYS.items() <= headers.items(), "headers of " + path, headers)
        check(headers["cache-control"] == ("no-cache" if path.startswith("/page") else "no-store"), path, headers)
        if ".json" in path:
            json.loads(body)
        head, headers, body = ask(path, "HEAD")
        check(head == 200 and body == b"" and int(headers["content-length"]) > 0, "HEAD " + path, head, headers)
    minutes = json.loads(ask("/minutes.json?space=lettuce")[2])
    check(all(len(row) == len(minutes["columns"]) for row in minutes["rows"]), "a value a column", minutes)
    page = ask("/")[2].decode()
    check("Propagation &lt;b&gt;room&lt;/b&gt; &amp; &#39;co&#39;" in page and "<b>" not in page, "escaped", page)
    check("@SITE@" not in page and "<h2>lettuce</h2>" in page, "a summary without JavaScript", page)
    tag = ask("/page.js")[1]["etag"]
    check(ask("/page.js", headers={"If-None-Match": tag})[0] == 304, "304", tag)
    check(ask("/page.js", headers={"If-None-Match": '"x"'})[0] == 200, "another tag", tag)


def wrong_words():
    for path, status in (("/day.json", 400), ("/day.json?space=nowhere", 404), ("/day.json?space=lettuce&day=x", 400),
                         ("/days.json?space=lettuce&count=9999", 400), ("/day.json?space=lettuce&day=1980-01-01", 404),
                         ("/day.json?space=%3Cscript%3E", 400), ("/plan.json?space=nowhere", 404), ("/day.json?" + "a" * 2000, 404)):
        got, headers, body = ask(path)
        check(got == status, path, got, body)
        check("script" not in body.decode().lower() or "json" in headers["content-type"], "harmless", headers, body)
    for path in ("/../etc/passwd", "/..%2f..%2fetc/passwd", "//etc/passwd", "/page.js/../status.json", "/%2e%2e/", "/.page.js", "/a.js",
                 "/index.html", "/status.json%00.js", "/%", "/live/../status.json", "http://localhost/status.json", "*"):
        got, _, body = ask(path)
        check(got == 404 and b"root:" not in body, "path " + path, got, body)


def strangers():
    for host in ("evil.example", "evil.example:%d" % PORT, "localhost.evil.example", "192.0.2.1", "", "a" * 3000, "localhost@evil.example"):
        check(ask("/status.json", headers={"Host": host})[0] == 421, "Host " + host[:40])
    check(b" 400 " in raw(b"GET /status.json HTTP/1.1\r\n\r\n") or b" 421 " in raw(b"GET /status.json HTTP/1.1\r\n\r\n"), "no Host")
    for host in ("localhost", "LOCALHOST:1", "[::1]:9", "lamps.example"):
        check(ask("/status.json", headers={"Host": host})[0] == 200, "Host " + host)
    for method in ("POST", "PUT", "DELETE", "OPTIONS", "TRACE", "CONNECT", "BREW"):
        status, headers, _ = ask("/status.json", method)
        check(status == 405 and headers["allow"] == "GET, HEAD", method, status, headers)
    check(ask("/status.json", "POST", {"Content-Length": "3"}, b"a=1")[0] == 405, "POST with a body")
    check(ask("/status.json", "GET", {"Content-Length": "3"}, b"a=1")[0] == 413, "GET with a body")
    check(ask("/status.json", "GET", {"Transfer-Encoding": "chunked"}, b"0\r\n\r\n")[0] == 413, "GET in chunks")


def too_much():
    answer = raw(b"GET /status.json HTTP/1.1\r\nHost: localhost\r\n" + b"A: " + b"b" * 60000 + b"\r\n\r\n")
    check(answer == b"" or b" 431 " in answer or b" 413 " in answer, "a huge header", answer[:100])
    answer = raw(b"GET /status.json HTTP/1.1\r\nHost: localhost\r\n" + b"A: b\r\n" * 20000 + b"\r\n")
    check(answer == b"" or b" 431 " in answer or b" 413 " in answer, "20 000 headers", answer[:100])
    answer = raw(b"GET /" + b"a" * 100000 + b" HTTP/1.1\r\nHost: localhost\r\n\r\n")
    check(answer == b"" or b" 414 " in answer, "an endless path", answer[:100])
    for noise in (b"\0" * 1000, b"\r\n" * 1000, b"GET\r\n\r\n", b"\x16\x03\x01\x02\x00" + b"\xff" * 500, b"GET / HTTP/9.9\r\n\r\n"):
        raw(noise, 2.0)


def pipelined():
    got = raw(b"".join(b"GET /x%d HTTP/1.1\r\nHost: localhost\r\n\r\n" % i for i in range(200)))
    check(got.count(b"HTTP/1.1 404") == 200, "200 requests in one go", got.count(b"HTTP/1.1 404"))


def ten_thousand():
    """Over one connection, and as fast as it goes."""
    line = http.client.HTTPConnection("127.0.0.1", PORT, timeout=5)
    request = b"GET /page.css HTTP/1.1\r\nHost: localhost\r\nIf-None-Match: %s\r\n\r\n" % ask("/page.css")[1]["etag"].encode()
    line.connect()
    line.sock.settimeout(5)
    got = 0
    for _ in range(100):
        line.sock.sendall(request * 100)
        got += 100
        seen = 0
        while seen < 100:
            seen += line.sock.recv(262144).count(b"HTTP/1.1 304")
    line.close()
    check(got == 10000, "10 000 requests", got)


def many_live():
    """Four may look live; a crowd beyond is turned away, and honest ones are served when it has gone."""
    callers = []
    for _ in range(50):
        caller = socket.socket()
        caller.setblocking(False)
        caller.connect_ex(("127.0.0.1", PORT))
        callers.append(caller)
    heads = {}
    until = time.monotonic() + 3
    sent = set()
    while time.monotonic() < until and len(heads) < 4:
        for caller in callers:
            try:
                if caller not in sent:
                    caller.sendall(b"GET /live HTTP/1.1\r\nHost: localhost\r\n\r\n")
                    sent.add(caller)
                got = caller.recv(4096)
                if got.startswith(b"HTTP/1.1 "):
                    heads[caller] = got[9:12]
            except (BlockingIOError, ConnectionError, OSError):
                pass
        time.sleep(0.01)
    counts = [sum(head == code for head in heads.values()) for code in (b"200", b"503")]
    for caller in callers:
        caller.close()
    check(counts[0] <= 4 and sum(counts) >= 1, "at most four live streams", counts)


def live():
    with dial() as caller:
        caller.sendall(b"GET /live HTTP/1.1\r\nHost: localhost\r\n\r\n")
        got = b""
        until = time.monotonic() + 6
        while got.count(b"event: status") < 2 and time.monotonic() < until:
            got += caller.recv(65536)
        check(b"text/event-stream" in got and got.count(b"event: status") >= 2, "two pictures within 6 s", got[:2000])
        check(json.loads(got.split(b"data: ")[1].split(b"\n\n")[0])["spaces"], "the picture", got[:2000])


class Stalled:
    """Connections that never come to an end by themselves, and when the server ended each."""

    def __init__(self, half_open, dripping, deaf):
        self.began = time.monotonic()
        self.ended = {}
        for i in range(half_open):
            self.watch("half-open %d" % i, self.half_open)
        for i in range(dripping):
            self.watch("dripping %d" % i, self.drip)
        for i in range(deaf):
            self.watch("deaf %d" % i, self.deaf)

    def watch(self, name, how):
        caller = dial(30)
        threading.Thread(target=self.run, args=(name, how, caller), daemon=True).start()

    def run(self, name, how, caller):
        try:
            how(caller)
        except OSError:
            pass
        self.ended[name] = time.monotonic() - self.began

    @staticmethod
    def half_open(caller):
        caller.sendall(b"GET / HT")
        while caller.recv(4096):
            pass

    @staticmethod
    def drip(caller):
        caller.sendall(b"GET /status.json HTTP/1.1\r\nHost: localhost\r\nA: ")
        while True:
            caller.sendall(b"b")
            time.sleep(0.1)

    @staticmethod
    def deaf(caller):
        """Asks for 100 times 130 kB and takes none of it: the end shows when writing fails."""
        caller.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        caller.sendall(b"GET /dygraph.js HTTP/1.1\r\nHost: localhost\r\n\r\n" * 100)
        while True:
            caller.sendall(b"\r\n")
            time.sleep(0.1)

    def check(self):
        until = self.began + REQUEST_S + 6
        while len(self.ended) < 11 and time.monotonic() < until:
            time.sleep(0.05)
        print("ended after s:", {name: round(seconds, 1) for name, seconds in sorted(self.ended.items())})
        check(len(self.ended) == 11, "every stalled connection is ended", self.ended)
        for name, seconds in self.ended.items():
            check(seconds > IDLE_S - 2 or not name.startswith("half-open"), "not too soon", name, seconds)


def suite():
    honest("nothing")
    stalled = Stalled(half_open=7, dripping=2, deaf=2)
    for kind in (paths, wrong_words, strangers, too_much, pipelined, live, ten_thousand):
        began = time.monotonic()
        kind()
        honest(kind.__name__)
        print("%s: met, %.1f s" % (kind.__name__, time.monotonic() - began))
    many_live()
    honest("a crowd of live ones", 4.0)  # the kernel's queue was full: a connection is tried again after 1 s, then 2 s
    stalled.check()
    honest("the stalled")


def stall():
    stalled = Stalled(half_open=8, dripping=0, deaf=0)
    print("READY", flush=True)
    while len(stalled.ended) < 8:
        time.sleep(0.02)


def hammer():
    line = http.client.HTTPConnection("127.0.0.1", PORT, timeout=5)
    began = time.monotonic()
    count = 0
    while time.monotonic() - began < 20:
        line.request("GET", "/status.json")
        answer = line.getresponse()
        check(answer.status == 200 and answer.read(), "the status", answer.status)
        count += 1
    print("%.0f" % (count / (time.monotonic() - began)))


if __name__ == "__main__":
    {"suite": suite, "stall": stall, "hammer": hammer}[sys.argv[1]]()
