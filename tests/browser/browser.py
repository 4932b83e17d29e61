# SPDX-License-Identifier: Apache-2.0
"""A headless Chromium, and what every check of the page asks it."""
import base64
import json
import os
import pathlib
import time
import urllib.parse
import urllib.request

from selenium import webdriver
from selenium.webdriver.chrome.service import Service

SIZES = {"phone": (390, 844), "desktop": (1280, 900)}


def chromium():
    options = webdriver.ChromeOptions()
    options.binary_location = "/usr/bin/chromium"
    for argument in (
        "--headless=new",
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--hide-scrollbars",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
    ):
        options.add_argument(argument)
    if os.geteuid() == 0:
        options.add_argument("--no-sandbox")
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    return webdriver.Chrome(service=Service("/usr/bin/chromedriver"), options=options)


class Browser:
    def __init__(self, base):
        self.base = base
        self.driver = chromium()
        self.hosts = set()
        self.failures = []

    def cdp(self, command, **values):
        return self.driver.execute_cdp_cmd(command, values)

    def js(self, script, *values):
        return self.driver.execute_script(script, *values)

    def look_as(self, size, scheme="light", media=""):
        width, height = SIZES[size]
        self.cdp(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=size == "phone",
        )
        self.cdp(
            "Emulation.setEmulatedMedia",
            media=media,
            features=[
                {"name": "prefers-color-scheme", "value": scheme},
                {"name": "prefers-reduced-motion", "value": "reduce"},
            ],
        )

    def open(self, path="/"):
        self.driver.get(self.base + path)

    def text(self, selector):
        return self.js(
            "return [...document.querySelectorAll(arguments[0])].map((one) => one.textContent).join('\\n')",
            selector,
        )

    def wait(self, words, script, *values, seconds=10):
        """Until the script is true; the deadline is a failure with these words."""
        deadline = time.monotonic() + seconds
        while time.monotonic() < deadline:
            found = self.js(script, *values)
            if found:
                return found
            time.sleep(0.05)
        self.check(False, f"not within {seconds} s: {words}")
        return None

    def wait_text(self, selector, words, seconds=10):
        return self.wait(
            f"'{words}' in {selector}, which says: {self.text(selector)[:200]}",
            "return [...document.querySelectorAll(arguments[0])].some((one) => one.textContent.includes(arguments[1]))",
            selector,
            words,
            seconds=seconds,
        )

    def check(self, is_right, words):
        if not is_right:
            self.failures.append(words)
            print("  WRONG:", words)

    def console(self):
        """What the console says since the last time that is more than a remark."""
        return [
            entry["message"]
            for entry in self.driver.get_log("browser")
            if entry["level"] in ("SEVERE", "WARNING")
        ]

    def requests(self):
        """URLs asked for since the last time."""
        urls = []
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                urls.append(message["params"]["request"]["url"])
        return urls

    def check_quiet(self, words):
        """No console error, and nobody asked but this server."""
        said = self.console()
        self.check(not said, f"{words}: the console says {said[:3]}")
        own = urllib.parse.urlsplit(self.base).netloc
        foreign = [
            url
            for url in self.requests()
            if not url.startswith(("data:", "chrome", "about:"))
            and urllib.parse.urlsplit(url).netloc != own
        ]
        self.check(not foreign, f"{words}: asked another host: {foreign[:3]}")

    def picture(self, name):
        """For the eye, when LAMPWARDEN_PICTURES names a folder."""
        folder = os.environ.get("LAMPWARDEN_PICTURES")
        if folder:
            data = self.cdp("Page.captureScreenshot", captureBeyondViewport=False)["data"]
            pathlib.Path(folder, name + ".png").write_bytes(base64.b64decode(data))

    def axe(self, source, words):
        """Serious and critical findings of axe-core."""
        if not source:
            return
        self.js(source)
        found = self.driver.execute_async_script(
            "const done = arguments[0]; axe.run(document, {resultTypes: ['violations']}).then((all) => done(all.violations))"
        )
        serious = [
            f"{one['id']} ({one['impact']}): {one['nodes'][0]['html'][:120]} {one['nodes'][0].get('failureSummary', '')[:200]}"
            for one in found
            if one["impact"] in ("serious", "critical")
        ]
        self.check(not serious, f"{words}: axe finds {serious[:4]}")
        lesser = sorted(
            {one["id"] for one in found if one["impact"] not in ("serious", "critical")}
        )
        print(
            f"  axe, {words}: {len(serious)} serious or critical{', lesser: ' + ', '.join(lesser) if lesser else ''}"
        )


def fetch(url):
    with urllib.request.urlopen(url, timeout=10) as answer:
        return answer.read().decode()


def finish(browser):
    browser.driver.quit()
    if browser.failures:
        raise SystemExit(f"{len(browser.failures)} wrong: " + "; ".join(browser.failures)[:1500])
