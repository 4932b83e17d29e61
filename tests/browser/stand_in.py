#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Serves the page with the answers of a made-up moment, so that a browser sees states that a running daemon
reaches seldom: fault, no sensor, night, a demonstration, a connection that is lost.

The days come from a rehearsed journal (of the demonstration's configuration, whose limits stand in made_up.py). What is
asked in /control?state=… changes the moment: day, night, fault, blind, demonstration, waiting. Test only."""
import argparse
import datetime
import json
import pathlib
import time
import urllib.parse
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from made_up import EPOCH, Moment

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
KINDS = {".html": "text/html", ".css": "text/css", ".js": "text/javascript"}


class Page(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def log_message(self, *_):
        pass

    def give(self, body, kind, code=200):
        body = body if isinstance(body, bytes) else body.encode()
        self.send_response(code)
        self.send_header("Content-Type", kind + "; charset=utf-8")
        self.send_header("Content-Length", str(len(body)))
        self.send_header("Content-Security-Policy", POLICY)
        self.send_header("X-Content-Type-Options", "nosniff")
        self.send_header("Cache-Control", "no-store")
        self.end_headers()
        self.wfile.write(body)

    def live(self, moment):
        self.send_response(200)
        self.send_header("Content-Type", "text/event-stream")
        self.send_header("Connection", "close")
        self.end_headers()
        while not moment.silent:
            self.wfile.write(f"event: status\ndata: {json.dumps(moment.status())}\n\n".encode())
            self.wfile.flush()
            time.sleep(self.server.every_s)
        self.close_connection = True

    def data(self, moment, path, query):
        space = query.get("space", moment.spaces[0])
        date = query.get("day")
        day = (datetime.date.fromisoformat(date) - EPOCH).days if date else moment.day
        if path == "/days.json":
            days = moment.days(space, moment.day - 1, int(query.get("count", 30)))
            return {"space": space, "days": days}
        return {
            "/status.json": lambda: moment.status(),
            "/plan.json": lambda: moment.plan(space),
            "/day.json": lambda: moment.day_json(space, day),
            "/minutes.json": lambda: moment.minutes_json(space, day),
            "/events.json": lambda: moment.events(space, day),
            "/nights.json": lambda: moment.nights(space),
            "/why.json": lambda: moment.why(space, query.get("time")),
        }[path]()

    def control(self, moment, query):
        moment.state = query.get("state", moment.state)
        moment.silent = query.get("silent", "no") == "yes"
        moment.lost_day = query.get("lost_day", "")
        moment.has_charts = query.get("charts", "yes") == "yes"
        moment.extra = [query["alarm"]] if "alarm" in query else []
        if "hour" in query:
            moment.set_hour(float(query["hour"]))
        self.give("done", "text/plain")

    def do_GET(self):
        moment, url = self.server.moment, urllib.parse.urlsplit(self.path)
        query = dict(urllib.parse.parse_qsl(url.query))
        try:
            if url.path == "/control":
                with moment.lock:
                    self.control(moment, query)
            elif moment.silent:
                self.close_connection = True
            elif url.path == "/live":
                self.live(moment)
            elif moment.lost_day and query.get("day") == moment.lost_day:
                words = f"no light day {moment.lost_day} is stored"
                self.give(json.dumps({"error": words}), "application/json", 404)
            elif url.path.endswith(".json"):
                with moment.lock:
                    answer = self.data(moment, url.path, query)
                self.give(json.dumps(answer), "application/json")
            else:
                self.file(moment, url.path)
        except BrokenPipeError:
            self.close_connection = True

    def file(self, moment, path):
        path = "/index.html" if path == "/" else path
        folder = self.server.charts if path.startswith("/dygraph.") else self.server.page
        file = folder / path[1:].replace("dygraph.", "dygraph.min.")
        if (
            "/" in path[1:]
            or not file.is_file()
            or (folder == self.server.charts and not moment.has_charts)
        ):
            self.give("there is no such page", "text/plain", 404)
            return
        body = file.read_text()
        if path == "/index.html":
            status = moment.status()
            summary = "".join(
                f'<article class="strip"><h2>{space["space"]}</h2><p class="state">{space["state"]}</p></article>'
                for space in status["spaces"]
            )
            body = body.replace("@SITE@", status["site"]).replace(
                "@MARK@", status.get("demonstration", "")
            )
            body = body.replace("@SUMMARY@", f'<p class="moment">{status["time"]}</p>{summary}')
        self.give(body, KINDS[file.suffix])


def main():
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--journal", required=True)
    options.add_argument("--page", required=True, type=pathlib.Path)
    options.add_argument(
        "--charts", type=pathlib.Path, default=pathlib.Path("/usr/share/javascript/dygraphs")
    )
    options.add_argument("--day", required=True)
    options.add_argument("--hour", type=float, default=15.5)
    options.add_argument("--port", type=int, default=0)
    options.add_argument("--every", type=float, default=2.0)
    asked = options.parse_args()
    server = ThreadingHTTPServer(("127.0.0.1", asked.port), Page)
    server.daemon_threads = True
    server.moment = Moment(asked.journal, asked.day, asked.hour)
    server.page, server.charts, server.every_s = asked.page, asked.charts, asked.every
    print(f"READY {server.server_port}", flush=True)
    server.serve_forever()


if __name__ == "__main__":
    main()
