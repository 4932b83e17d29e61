#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""The page of a running daemon: the picture moves, an alarm comes up by itself, a fifth visitor asks instead of listening.
Usage: check_live.py BASE_URL BENCH_PID"""
import http.client
import json
import os
import signal
import sys
import time
import urllib.parse

from browser import Browser, fetch, finish
from made_up import COLUMNS

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)


def watch(browser):
    browser.look_as("phone")
    browser.open()
    browser.wait("three strips", "return document.querySelectorAll('.strip .band').length === 3")
    browser.wait_text("#link", "Live")
    browser.wait_text(".state", "on at ", seconds=30)
    before = browser.text("#moment")
    browser.wait(
        "a newer picture",
        "return document.querySelector('#moment').textContent !== arguments[0]",
        before,
        seconds=6,
    )
    browser.wait_text(".lamps td", "closed")
    browser.wait("the curves", "return document.querySelectorAll('.chart canvas').length > 3")
    browser.wait_text(".events li", "the light day begins")
    browser.wait_text(".month", "days met their target")
    browser.wait_text(".nights", "whole night")
    browser.check(
        "libjs" not in browser.text(".remark:not([hidden])"), "the chart library is there"
    )
    browser.picture("live-phone")
    browser.check_quiet("the daemon's page")


def policy(browser):
    connection = http.client.HTTPConnection(urllib.parse.urlsplit(browser.base).netloc, timeout=10)
    connection.request("GET", "/")
    answer = connection.getresponse()
    browser.check(answer.headers["Content-Security-Policy"] == POLICY, "the page's policy")
    browser.check("lettuce" in answer.read().decode(), "the server's own summary")
    connection.close()


def words(browser):
    """The page calls every limiter what the daemon calls it."""
    told = browser.driver.execute_async_script(
        """const done = arguments[0];
        Promise.all([import('/words.js'), fetch('/minutes.json?space=lettuce').then((answer) => answer.json())]).then(
            ([words, minutes]) => done(minutes.limiters.map((key, i) =>
                [key, minutes.limiter_words[i], words.limiter(key).words, words.limiter(key).letter])))"""
    )
    wrong = [one for one in told if one[1] != one[2] or one[3] == "?"]
    browser.check(
        len(told) > 10 and not wrong, f"limiters are called otherwise on the page: {wrong}"
    )


def minutes(browser):
    """The daemon writes every column that the curves of made-up moments are drawn from."""
    answer = json.loads(fetch(browser.base + "/minutes.json?space=lettuce"))
    missing = set(COLUMNS) - set(answer["columns"])
    browser.check(not missing, f"columns that the daemon does not write: {missing}")


def raise_alarm(browser, bench):
    os.kill(bench, signal.SIGSTOP)  # a device that does not answer any more
    began = time.monotonic()
    browser.wait(
        "an alarm",
        "return document.querySelectorAll('.alarms:not([hidden]) li').length > 0",
        seconds=30,
    )
    print(
        f"  an alarm stands on the page {time.monotonic() - began:.1f} s after the device fell silent: "
        f"{browser.text('.alarms li')[:100]}"
    )
    browser.wait_text("[role=alert]", "Alarm: ")
    os.kill(bench, signal.SIGCONT)


def crowd(browser):
    """With four listeners there is no place for a fifth: it asks every 5 s."""
    browser.open("/words.js")  # lets go of its own place
    host = urllib.parse.urlsplit(browser.base).netloc
    others = []
    for _ in range(8):
        other = http.client.HTTPConnection(host, timeout=10)
        other.request("GET", "/live")
        if other.getresponse().status == 503:
            break
        others.append(other)
    browser.open()
    browser.wait_text("#link", "Asked every 5 s", seconds=15)
    before = browser.text("#moment")
    browser.wait(
        "an answer to a question",
        "return document.querySelector('#moment').textContent !== arguments[0]",
        before,
        seconds=12,
    )
    for other in others:
        other.close()
    print(f"  {len(others)} others listened meanwhile")


def main():
    began, spent = time.monotonic(), []
    browser = Browser(sys.argv[1])
    try:
        for step in (
            watch,
            policy,
            words,
            minutes,
            lambda its: raise_alarm(its, int(sys.argv[2])),
            crowd,
        ):
            before = time.monotonic()
            step(browser)
            spent.append(f"{time.monotonic() - before:.1f}")
    finally:
        print(f"  the daemon's page: {time.monotonic() - began:.1f} s: {' '.join(spent)}")
        finish(browser)


main()
