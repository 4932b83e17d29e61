#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Walks surveys by hand, all at once: a rig by pipe, one that is killed and goes on, a person at a terminal, a disk
that is full, two at one file, a lamp that is not where it was, a mute sensor. Usage: survey_walker.py FOLDER, with the daemon's socket FOLDER/control; LAMPWARDEN is the program."""
import csv
import faulthandler
import json
import os
import pty
import select
import signal
import subprocess
import sys
import threading
import time

folder = sys.argv[1]
PATIENCE_S = 40
failures = []


def check(truth, what):
    if not truth:
        raise AssertionError(what)


def command(name, *more):
    return [os.environ["LAMPWARDEN"], "survey", "--live", "lettuce", "--grid", "3x2", "--spacing", "15cm", "--height",
            "60cm", "--samples", "3", "--settle", "1s", "--socket", f"{folder}/control", "--output",
            name if "/" in name else f"{folder}/{name}", *more]


def rows(name):
    with open(f"{folder}/{name}") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


class Rig:
    """Sends a word, and waits for the line that answers it."""

    def __init__(self, name, *more):
        self.errors = open(f"{folder}/{os.path.basename(name)}.err", "w+")
        self.process = subprocess.Popen(command(name, *more), stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                        stderr=self.errors, text=True, bufsize=1)

    def line(self, beginning):
        line = self.process.stdout.readline()
        check(line.startswith(beginning), f"'{beginning}' expected, '{line}' came; {self.said()}")
        return line

    def send(self, word):
        self.process.stdin.write(word + "\n")

    def end(self):
        rest, _ = self.process.communicate(timeout=PATIENCE_S)
        return self.process.returncode, rest

    def said(self):
        self.errors.seek(0)
        return " ".join(self.errors.read().split())


def by_pipe():
    rig = Rig("pipe.csv")
    rig.line("point point=1 of=6 x_cm=0.0 y_cm=0.0")
    rig.send("")
    reading = rig.line("reading point=1 of=6")
    umol = float(reading.split("ppfd_umol=")[1].split()[0])
    # the sensor's own reading: the space's canopy_factor of 1.5 is not in it (lamp: 0.6 of 420, bent a little)
    check(230 < umol < 290, f"not the sensor's own reading: {reading}")
    check(abs(float(rows("pipe.csv")[0]["ppfd_umol"]) - umol) < 0.01, "the reading was told before it was stored")
    rig.line("point point=2")
    rig.send("s")
    rig.line("left-out point=2")
    check(rows("pipe.csv")[1]["ppfd_umol"] == "", "a skipped point is an empty reading")
    rig.line("point point=3")
    rig.send("b")
    rig.line("point point=2")
    for words in ("99", "what?", "q\0", "b" * 5000):  # nothing that could be meant
        rig.send(words)
        rig.line("point point=2")
    rig.send("r")
    rig.line("reading point=1")
    rig.line("point point=3")
    code, rest = rig.end()
    check(code == 1 and "the input ended: 2 of 6 points" in rig.said(), rig.said())
    check("! Nobody holds" not in rig.said() and "counts its light for the plants' day" in rig.said(), rig.said())
    check(len(rows("pipe.csv")) == 2, "a point that was measured again is there once")
    head = open(f"{folder}/pipe.csv").read()
    for note in ("# fixture: a", "# height_cm: 60", "# level: 0.6\n", "# fixture_w: ", "# drive: 0.59", "# sensor: par",
                 "# grid: 3 x 2", "# spacing_cm: 15 x 15", "# canopy_cm: 30 x 15"):
        check(note in head, f"{note} is not in the head")


def killed():
    rig = Rig("killed.csv")
    rig.line("point point=1")
    rig.send("")
    rig.line("reading point=1")
    rig.line("point point=2")
    rig.send("")
    rig.process.kill()
    rig.process.wait()
    kept = rows("killed.csv")
    check(len(kept) == 1 and float(kept[0]["ppfd_umol"]) > 0, f"kill -9 lost the point: {kept}")
    with open(f"{folder}/killed.csv", "a") as file:  # the others as somebody else wrote them, but for the last
        file.write("15,0,250,0.5,3\n30,0,240,0.5,3\n30,15,,,\n15,15,245,0.5,3\n")
    rig = Rig("killed.csv", "--json")
    note = rig.line('{"event":"note"')
    while "goes on with point 6" not in note:
        note = rig.line('{"event":"note"')
    check("5 of 6 points" in note, note)
    check(json.loads(rig.line("{")) == {"event": "point", "point": 6, "of": 6, "x_cm": 0, "y_cm": 15}, "point 6")
    rig.send("")
    reading = json.loads(rig.line("{"))
    check(reading["event"] == "reading" and reading["samples"] == 3 and reading["spread_umol"] < 20, reading)
    code, rest = rig.end()
    check(code == 0, f"{code}: {rig.said()}")
    report = json.loads(rest)
    again = subprocess.run([os.environ["LAMPWARDEN"], "survey", f"{folder}/killed.csv", "--json"], capture_output=True,
                           text=True, check=True)
    check(json.loads(again.stdout) == report, "the report differs from that of the file")
    height = report["heights"][0]
    check(height["count"] == 5 and height["holes"] == 1 and height["height_cm"] == 60, height)
    check(height["level"] == 0.6 and abs(height["drive"] - 0.596) < 0.01 and height["fixture_w"] > 100, height)


class Person:
    """At a pseudo terminal."""

    def __init__(self, name):
        self.seen = ""
        self.pid, self.terminal = pty.fork()
        if self.pid == 0:
            os.environ["TERM"] = "linux"
            os.environ["LC_ALL"] = "C.UTF-8"
            os.execv(command(name)[0], command(name))

    def sees(self, words):
        end = time.monotonic() + PATIENCE_S
        while words not in self.seen:
            check(time.monotonic() < end, f"'{words}' was not seen: {self.seen[-1500:]}")
            if select.select([self.terminal], [], [], 0.5)[0]:
                self.seen += os.read(self.terminal, 4096).decode(errors="replace").replace("\r\n", "\n")
        self.seen = self.seen.split(words, 1)[1]

    def types(self, words):
        os.write(self.terminal, words.encode())


def at_a_terminal():
    person = Person("terminal.csv")
    person.sees("Do not look into the lamp")
    person.sees("Every point is stored in")
    person.sees("Enter to begin, q to leave: ")
    person.types("\n")
    person.sees("0 of 6 points")
    person.sees("Point 1 of 6: x 0, y 0 cm.")
    person.types("\n")
    person.sees("of 3 readings")
    person.sees("\a")
    person.sees("stored.")
    person.sees("Point 2 of 6")
    person.types("b\n")
    person.sees("Point 1 of 6: x 0, y 0 cm; it has 2")
    person.types("s\n")
    person.sees("Point 1 keeps its 2")
    person.types("5\n")
    person.sees("Point 5 of 6: x 15, y 15 cm.")
    person.types("\n")
    person.sees("of 3 readings")
    person.types("s\n")  # in the middle of a reading
    person.sees("Point 5 is left out")
    person.sees("Point 6 of 6")
    os.close(person.terminal)  # the window is closed
    _, status = os.waitpid(person.pid, 0)
    check(os.WIFEXITED(status) and os.WEXITSTATUS(status) == 1, f"status {status} of a closed terminal")
    check([bool(r["ppfd_umol"]) for r in rows("terminal.csv")] == [True, False], rows("terminal.csv"))
    person = Person("terminal.csv")
    person.sees("terminal.csv has 2 of 6 points; it goes on with point 2.")
    os.kill(person.pid, signal.SIGINT)
    os.waitpid(person.pid, 0)
    os.close(person.terminal)


def on_a_full_disk():
    disk = f"{folder}/disk"
    os.mkdir(disk)
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "none", disk], capture_output=True).returncode != 0:
        print("no small disk can be mounted here: a full one is not tested")
        return
    rig = Rig(f"{disk}/full.csv")
    rig.line("point point=1")
    with open(f"{disk}/ballast", "wb", buffering=0) as ballast:
        try:
            while ballast.write(b"0" * 4096):
                pass
        except OSError:
            pass
    rig.send("")
    code, rest = rig.end()
    check(code == 1 and "point 1 is not stored" in rig.said() and "No space left" in rig.said(), rig.said() + rest)
    check(not os.path.exists(f"{disk}/full.csv"), "half a file")


def begun(name, level):
    text = (f"# fixture: a\n# height_cm: 60\n# by: somebody\n# level: {level}\n# space: lettuce\n# sensor: par\n"
            "# grid: 3 x 2\n# spacing_cm: 15 x 15\nx_cm,y_cm,ppfd_umol,spread_umol,samples\n0,0,120,0.5,3\n")
    with open(f"{folder}/{name}", "w") as file:
        file.write(text)
    return text


def not_the_same_survey():
    head = begun("other.csv", 0.6)
    for words, what in ((["--grid", "4x2"], "another grid: 3 x 2 points 15 cm apart there, 4 x 2 points 15 cm"),
                        (["--spacing", "6in"], "another grid: 3 x 2 points 15 cm apart there, 3 x 2 points 6 in"),
                        (["--height", "80cm"], "another height: height_cm: 60 there, height_cm: 80 here"),
                        (["--fixture", "b"], "another fixture: a there, b here")):
        other = subprocess.run(command("other.csv", *words), stdin=subprocess.DEVNULL, capture_output=True, text=True)
        check(other.returncode == 1 and what in other.stderr, other.stderr)
    check(open(f"{folder}/other.csv").read() == head, "a survey that was refused has changed the file")


def by_two():
    text = begun("two.csv", 0.6)
    rig = Rig("two.csv")
    rig.line("point point=2")
    rig.send("s")
    rig.line("left-out point=2")
    rig.line("point point=3")
    check(open(f"{folder}/two.csv").read() == text + "15,0,,,\n", "notes by hand stay")
    begun("two.csv", 0.6)
    rig.send("s")
    code, rest = rig.end()
    check(code == 1 and "two.csv was changed by somebody else meanwhile" in rig.said(), rig.said())
    check(open(f"{folder}/two.csv").read() == text, "what somebody else wrote is gone")


def under_another_level():
    head = begun("moved.csv", 0.3)
    rig = Rig("moved.csv", "--patience", "5s")
    rig.line("point point=2")
    rig.send("")
    waiting = rig.line("waiting point=2 of=6")
    check("the lamps stand at 60.0 % (by hand), the survey was begun at 30.0 %; to hold them there" in waiting, waiting)
    code, rest = rig.end()
    check(code == 1 and "point 2 had no reading that counts for 5 s: the lamps stand" in rig.said(), rig.said())
    check(open(f"{folder}/moved.csv").read() == head, "a reading under another level counted")


def by_a_mute_sensor():
    rig = Rig("mute.csv", "--sensor", "mute", "--patience", "1s")
    rig.line("point point=1")
    rig.send("")
    code, rest = rig.end()
    check(code == 1 and "for 1 s: mute is lost: the device refuses it" in rig.said(), rig.said())
    check("counts its light" not in rig.said(), "the daemon does not read the space's light by that one")
    check(not os.path.exists(f"{folder}/mute.csv"), "a file without a point")


def walk(scenario):
    try:
        scenario()
    except Exception as failure:  # whatever it is fails the test
        failures.append(f"{scenario.__name__}: {failure!r}")


faulthandler.dump_traceback_later(120, exit=True)
walkers = [threading.Thread(target=walk, args=(scenario,)) for scenario in
           (by_pipe, killed, at_a_terminal, on_a_full_disk, by_two, not_the_same_survey, under_another_level,
            by_a_mute_sensor)]
for walker in walkers:
    walker.start()
for walker in walkers:
    walker.join()
print("\n".join(failures))
sys.exit(1 if failures else 0)
