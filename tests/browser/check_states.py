#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""The page in every state, size and scheme, on the stand-in's made-up moments.
Usage: check_states.py BASE_URL [AXE_FILE]"""
import base64
import os
import pathlib
import sys
import time
import urllib.parse

from browser import Browser, fetch, finish, SIZES

# state, hour, what must be read on the first screen: (selector, words)
STATES = [
    (
        "day",
        15.5,
        [
            (".state", "of growing, on at"),
            (".state", "on course for"),
            (".switching", "off at 22:00"),
            (".calm", "No alarms"),
            (".reading", "plan"),
            (".reading", "heat foldback"),
            (".reading", "of 58"),
            (".line", "air"),
        ],
    ),
    (
        "night",
        4.25,
        [
            (".state", "dark: night until 06:00"),
            (".switching", "on at 06:00"),
            (".reading", "dark, night"),
        ],
    ),
    (
        "fault",
        15.5,
        [
            (".alarms", "LED driver tripped"),
            (".alarms", "may still be lit"),
            (".alarms", "bus line1 is not connected"),
            (".strip .sign", "alarm"),
        ],
    ),
    (
        "blind",
        14.0,
        [
            (".line", "no light reading"),
            (".reading", "no reading"),
            (".alarms", "light sensor par_basil: lost"),
        ],
    ),
    ("demonstration", 15.5, [("#mark", "Demonstration: bench, 720 times as fast")]),
    ("waiting", 15.5, [(".state", "the first stage begins in 3 days")]),
]
NAMELESS = """return [...document.querySelectorAll('svg[role=img], input, button, [role=region]')].filter((one) =>
  !one.closest('[hidden], [aria-hidden=true]') && !(one.getAttribute('aria-label') || one.labels?.length || one.textContent.trim())).map((one) => one.outerHTML.slice(0, 99))"""


def control(browser, **query):
    fetch(browser.base + "/control?" + urllib.parse.urlencode(query))


def see_states(browser):
    for size, scheme in (
        ("phone", "light"),
        ("phone", "dark"),
        ("desktop", "light"),
        ("desktop", "dark"),
    ):
        browser.look_as(size, scheme)
        control(browser, state="day", hour=15.5)
        browser.open()
        browser.wait("the strips", "return document.querySelectorAll('.strip .rule').length === 3")
        is_first = (size, scheme) == ("phone", "light") or "LAMPWARDEN_PICTURES" in os.environ
        for state, hour, expected in STATES if is_first else STATES[0:3:2]:
            control(browser, state=state, hour=hour)
            for selector, words in expected:
                browser.wait_text(selector, words, seconds=5)
            where = f"{state}, {size}, {scheme}"
            bottom = browser.js(
                "return document.querySelector('.legend').getBoundingClientRect().bottom"
            )
            browser.check(
                bottom <= SIZES[size][1],
                f"{where}: the first screen ends at {bottom} of {SIZES[size][1]}",
            )
            wide = browser.js(
                "return document.documentElement.scrollWidth - document.documentElement.clientWidth"
            )
            browser.check(wide <= 0, f"{where}: {wide} pixels too wide")
            browser.check(
                browser.js("return document.getElementById('mark').hidden")
                == (state != "demonstration"),
                f"{where}: the mark of a demonstration",
            )
            browser.picture(f"{size}-{scheme}-{state}")
        browser.check_quiet(f"{size}, {scheme}")


def read_book(browser):
    """The space with a short day and a broken night, by keyboard as far as there are keys for it."""
    control(browser, state="fault", hour=15.5)
    browser.wait_text(".alarms:not([hidden])", "LED driver tripped")
    control(browser, state="day", hour=15.5)
    browser.wait_text(".calm", "No alarms")
    browser.check(browser.js("return document.querySelector('.alarms').hidden"), "alarms go")
    browser.look_as("phone")
    browser.open()
    browser.wait("the curves", "return document.querySelectorAll('.chart canvas').length > 6")
    browser.wait_text(".month title", "short by 0.10")
    browser.js("document.querySelector('.tabs input').focus()")
    for _ in range(2):
        browser.driver.switch_to.active_element.send_keys("\ue014")  # arrow right
    browser.wait_text("#book", "chrysanthemum")
    browser.wait_text(".account th", "lost: heat foldback")
    browser.wait_text(".ruled text", "h")
    browser.wait_text(".nights td", "broken")
    browser.wait_text(".month svg.month text", "▼")
    browser.wait_text(".runs", "heat foldback")
    browser.wait_text(".hours caption", "Hour by hour")
    browser.wait_text(".events li", "lights on")
    before = browser.text(".readout")
    browser.js("document.getElementById('minute').focus()")
    browser.driver.switch_to.active_element.send_keys("\ue012" * 3)  # arrow left
    browser.check(browser.text(".readout") != before, "the arrows move the moment that is read")
    browser.js("document.querySelector('.why-button').click()")
    browser.wait_text(".why p", "heat foldback allowed no more")
    browser.wait_text(".why strong", "it ruled")
    nameless = browser.js(NAMELESS)
    browser.check(not nameless, f"without a name: {nameless}")
    browser.check(
        browser.js("return document.getAnimations().length") == 0,
        "something moves although less motion is asked for",
    )
    browser.js("document.querySelector('.turn button').click()")
    browser.wait_text("#book", "Tuesday, 24 November 2026")
    browser.wait_text(".words", "the target was met")
    browser.check_quiet("the book")
    control(browser, lost_day="2026-11-23", hour=15.5)
    browser.js("document.querySelector('.turn button').click()")
    browser.wait_text(".book > .remark:not([hidden])", "no light day 2026-11-23")
    browser.check("24 November" in browser.text("#book"), "the day that is open stays open")
    control(browser, hour=15.5)
    browser.console()


def print_it(browser):
    browser.look_as("desktop", "dark", media="print")
    browser.check(
        browser.js("return getComputedStyle(document.querySelector('.tabs')).display") == "none",
        "print: tabs are left out",
    )
    browser.check(
        browser.js("return getComputedStyle(document.body).backgroundColor")
        == "rgb(255, 255, 255)",
        "print: white paper",
    )
    browser.js("dispatchEvent(new Event('beforeprint'))")
    height = browser.js(
        "return document.querySelector('.hours table').getBoundingClientRect().height"
    )
    browser.check(height > 100, f"print: the table of hours is open ({height})")
    browser.js("dispatchEvent(new Event('afterprint'))")
    opened = browser.js("return document.querySelectorAll('details[open]').length")
    browser.check(opened == 0, "print: the tables are shut again")
    pdf = base64.b64decode(
        browser.cdp("Page.printToPDF", printBackground=False, paperWidth=8.27, paperHeight=11.69)[
            "data"
        ]
    )
    pages = pdf.count(b"/Type /Page\n") or pdf.count(b"/Type /Page")
    browser.check(0 < pages <= 8, f"print: {pages} pages")
    print(f"  print: {pages} pages, {len(pdf)} bytes")
    browser.look_as("desktop")


def weigh(browser):
    """Uncompressed bytes of the first screen with the chart library, and the first paint with a CPU four times as slow."""
    browser.look_as("phone")
    browser.cdp("Emulation.setCPUThrottlingRate", rate=4)
    browser.open()
    browser.wait(
        "the curves, slowly",
        "return document.querySelectorAll('.chart canvas').length > 6",
        seconds=20,
    )
    browser.cdp("Emulation.setCPUThrottlingRate", rate=1)
    files = browser.js(
        """return [...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')]
        .map((one) => [new URL(one.name).pathname, one.decodedBodySize])"""
    )
    first = sum(size for path, size in files if not path.endswith(".json"))
    data = sum(size for path, size in files if path.endswith(".json"))
    times = browser.js(
        """return {paint: performance.getEntriesByName('first-contentful-paint')[0]?.startTime,
        strips: performance.getEntriesByName('strips')[0]?.startTime}"""
    )
    print(
        f"  weight: {first} bytes, the curves' library included; {data} of the day's data after it"
    )
    print(
        f"  4x slower CPU: first paint {times['paint']:.0f} ms, instruments {times['strips']:.0f} ms"
    )
    browser.check(first < 250000, f"the first screen weighs {first} bytes")
    browser.check(times["strips"] < 8000, f"instruments after {times['strips']:.0f} ms")


def fall_silent(browser):
    browser.look_as("phone")
    browser.wait_text("#link", "Live")
    control(browser, silent="yes", hour=15.5)


def lose_connection(browser):
    """Nothing old looks new: after 12 s of silence the page says so, and how old its picture is."""
    browser.wait_text("#link", "Connection lost. What stands here is of 15:3", seconds=20)
    browser.wait_text(".state", "Last known: ", seconds=5)
    browser.check(
        "No alarms" not in browser.text(".calm"),
        "nobody knows of alarms while the connection is lost",
    )
    browser.check(
        browser.js("return document.documentElement.classList.contains('stale')"),
        "what is old looks old",
    )
    browser.look_as("phone")
    browser.js("scrollTo(0, 0)")
    browser.picture("phone-light-lost")
    control(browser, silent="no", alarm="the journal waits: the disk is full")
    browser.wait_text("#link", "Live", seconds=15)
    browser.wait_text(".alarms", "the disk is full")
    browser.wait_text("[role=alert]", "Alarm: the journal waits")
    browser.check("Last known" not in browser.text(".state"), "what is fresh is called old")
    browser.console()
    browser.requests()


def do_without(browser):
    """No script: the server's summary. No chart library: the tables."""
    browser.cdp("Emulation.setScriptExecutionDisabled", value=True)
    browser.open()
    browser.cdp("Emulation.setScriptExecutionDisabled", value=False)
    browser.check(
        "chrysanthemum" in browser.text("main article"), "without scripts: the server's summary"
    )
    browser.picture("phone-light-noscript")
    control(browser, charts="no", state="day")
    browser.open()
    browser.wait_text(".remark", "libjs-dygraphs")
    browser.wait_text(".hours td", "plan")
    control(browser, charts="yes")


def main():
    axe = pathlib.Path(sys.argv[2]).read_text() if len(sys.argv) > 2 else ""
    began = time.monotonic()
    browser = Browser(sys.argv[1])
    steps = [
        see_states,
        lambda its: its.axe(axe, "desktop, dark"),
        read_book,
        fall_silent,
        lambda its: its.axe(axe, "phone, light"),
        print_it,
        lose_connection,
        weigh,
        do_without,
    ]
    spent = []
    try:
        for step in steps:
            before = time.monotonic()
            step(browser)
            spent.append(f"{time.monotonic() - before:.1f}")
    finally:
        print(f"  states: {time.monotonic() - began:.1f} s: {' '.join(spent)}")
        finish(browser)


main()
