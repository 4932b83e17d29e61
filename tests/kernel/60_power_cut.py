#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Power cuts: the machine is killed at random moments, and its disk keeps a random part of what was not flushed.

The daemon writes its journal with the settings that it always has, on ext4. What it reports as stored has to be
there after the cut (SQLite, "PRAGMA quick_check", sqlite.org/pragma.html; journal and WAL, sqlite.org/wal.html), the
file has to be sound, and the light day goes on with the same mol.

In the machine time is warped: while nothing runs, its clock jumps to the next timer. So the daemon passes through
some hundred seconds, each with an event and a commit, while the host waits one. A cut may come at any moment, also
while the daemon is starting or creates its journal; every tenth disk is a new one.

    60_power_cut.py BUILD SOURCE [CUTS [SEED]]
"""
import os
import random
import select
import socket
import subprocess
import sys
import tempfile
import time
import uuid

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "support"))
import machine                                                                 # noqa: E402
from checks import check, done                                                 # noqa: E402
from daemon import Daemon, config, fixture, space                              # noqa: E402
from machine import VM, together                                               # noqa: E402
from volatile_disk import VolatileDisk                                         # noqa: E402

CUTS = int(sys.argv[3]) if len(sys.argv) > 3 else 200
SEED = int(sys.argv[4]) if len(sys.argv) > 4 else random.randrange(1 << 31)
LINES = 2                                # machines at the same time
NEW_DISK_EVERY = 10
EARLY_SHARE, EARLY_S = 0.25, 0.6         # of the cuts, within this time of the daemon's start
LATE_S = 0.5                             # the others: within this time of its first answer
LIMIT_S = 400                            # for all cuts: two free cores need 160 to 190 s
READY_S = 60                             # patience for that answer
OUTAGE_S = 60                            # as the clock of the machine sees it
SAVE_S = 60                              # the daemon saves its state that often, and commits within a second
RATE_MOL_S = 400e-6                      # of the lamp at full light

TAIL = ('journal = { path = "/data/journal.db"; commit_s = 1.0; };\n'
        'control = { socket = "/run/lampwarden/control"; };\n')
TEXT = config(['{ name = "lamps"; driver = "bench"; }'],
              ['{ name = "contact"; bus = "lamps"; kind = "switch"; unit = 0; }',
               '{ name = "dim"; bus = "lamps"; kind = "dim"; unit = 0; }'],
              [fixture("bar", "dim", "contact")], [space("lettuce", ["bar"])], tail=TAIL)
CALL = '\'{"jsonrpc":"2.0","id":1,"method":"%s","params":{"space":"lettuce"%s}}\''
WATCH = "lampwatch /run/lampwarden/control /dev/ttyS1 1000 %s %s > /dev/null 2>&1 &" % (
    CALL % ("hold", ',"level":0.5,"minutes":10'), CALL % ("resume", ""))
LOOK = ("sqlite3 -readonly /data/journal.db 'PRAGMA quick_check; SELECT max(id), count(*), max(wall_s) FROM event;"
        " SELECT max(wall_s) FROM minute' && ls /data")


class Line:
    """One machine after the other on the same disk."""

    def __init__(self, number, folder):
        self.rng = random.Random(SEED + number)
        self.folder = folder
        self.image = os.path.join(folder, "data.img")
        self.state = os.path.join(folder, "state")
        self.nbd = os.path.join(folder, "nbd.sock")
        self.wrong, self.seen, self.cuts, self.early = [], 0, 0, 0
        self.kept = self.lost = self.acknowledged = 0
        # Later than the build, for which the clock must not be too early.
        self.begin_s = (int(time.time()) // 86400 + 2) * 86400 + 6 * 3600
        self.arguments = {
            "initrd": os.path.join(machine.BUILD, "kernel", "plain.cpio"), "memory": 160, "serials": 1,
            "disk": "nbd+unix:///?socket=" + self.nbd, "disk_cache": "none", "icount": "shift=2,sleep=off",
            "rtc": time.strftime("base=%Y-%m-%dT%H:%M:%S,clock=vm", time.gmtime(self.begin_s))}
        self.new_disk()
        self.freeze()

    def new_disk(self):
        with open(self.image, "wb") as file:
            file.truncate(32 << 20)
        subprocess.run(["mkfs.ext4", "-q", "-F", "-b", "4096", "-E", "lazy_itable_init=0,lazy_journal_init=0", self.image],
                       check=True, env=dict(os.environ, PATH=os.environ["PATH"] + ":/usr/sbin:/sbin"))
        if os.path.exists(self.nbd):
            os.unlink(self.nbd)
        self.disk = VolatileDisk(self.nbd, image=self.image)
        self.event = self.stored_s = 0                         # acknowledged on this disk
        self.mol = self.kept_mol = 0.0                         # last seen, and what a saved state has for certain
        self.now_s = self.begin_s

    def freeze(self):
        """One boot, before the disk's driver is loaded, so that nothing of the disk is in the memory."""
        with VM(**self.arguments) as vm:
            vm.must("load ext4")
            Daemon(vm, TEXT)
            vm.must("cat /bin/lampwardend /bin/lampwatch /bin/sqlite3 > /dev/null; mkdir -p /run/lampwarden")
            vm.save(self.state)

    def fail(self, what):
        self.wrong.append("cut %d: %s" % (self.cuts, what))

    def take(self, text):
        """Lines that left the machine in one run: what they acknowledge."""
        run = []                                               # (unix time, mol)
        for line in text.split(b"\n")[:-1]:
            word, event, stored_s, mol, now_s = line.split()
            assert word == b"S", line
            if int(event) or int(stored_s):                    # zeroes: nothing stored in this run yet
                self.event = max(self.event, int(event))
                self.stored_s = max(self.stored_s, int(stored_s))
            self.now_s = max(self.now_s, int(now_s))
            run.append((int(now_s), float(mol)))
            self.acknowledged += 1
        if run:
            # A state is saved as soon as it is ready, and then every SAVE_S; it is stored with the next commit.
            saved = [mol for at, mol in run if at <= self.stored_s - SAVE_S - 3] or [
                mol for at, mol in run[:1] if at <= self.stored_s - 3]
            self.kept_mol = max(saved, default=self.kept_mol)
            self.mol = run[-1][1]

    def judge(self, vm, before, first_mol):
        """before: what was acknowledged when the power went."""
        event, stored_s, last_mol, kept_mol = before
        if not kept_mol <= first_mol <= last_mol + 5 * RATE_MOL_S:
            self.fail("%.6f mol after the cut, %.6f … %.6f before\n%s" % (
                first_mol, kept_mol, last_mol, vm.sh("cat /run/daemon.log").out))
        if not event and not stored_s:
            return                                             # of this disk nothing was acknowledged yet
        found = vm.sh(LOOK)
        lines = found.out.split("\n")
        if not found.ok or lines[0] != "ok":
            self.fail("the journal is not sound: " + found.out)
            return
        last, count, event_s = (int(word or 0) for word in lines[1].split("|"))
        if last < event or count != last:
            self.fail("event %d was acknowledged, found %d events up to %d" % (event, count, last))
        if max(event_s, int(lines[2] or 0)) < stored_s:
            self.fail("acknowledged up to %d, found up to %s and %d" % (stored_s, lines[2], event_s))
        if "corrupt" in found.out:
            self.fail("a journal was set aside: " + " ".join(lines[3:]))

    def cycle(self):
        if self.cuts % NEW_DISK_EVERY == 0 and self.cuts:
            self.new_disk()
        before = (self.event, self.stored_s, self.mol, self.kept_mol)
        with VM(loadvm=self.state, **self.arguments) as vm:
            with socket.socket(socket.AF_UNIX) as port:
                # A machine that was frozen has the random numbers of its brothers: its boot gets a name of its own.
                made = vm.sh("echo %s > /run/boot_id; mount -o bind /run/boot_id /proc/sys/kernel/random/boot_id; "
                             "load virtio_blk; mount -t ext4 /dev/vda /data && date -s @%d"
                             % (uuid.UUID(int=self.rng.getrandbits(128)), self.now_s + OUTAGE_S))
                if not made.ok:
                    self.fail("the file system does not mount: %s\n%s" % (made.out, vm.must("dmesg | tail -3")))
                    self.new_disk()
                    return
                port.connect(vm.serial_path(1))
                vm.must("mkdir -p /data/state; cd /run; lampwardend --config /run/lamp.conf --state /data/state "
                        "> /run/daemon.log 2>&1 & %s" % WATCH)
                self.run_until_cut(vm, port, before)
                self.kept, self.lost = (a + b for a, b in zip((self.kept, self.lost),
                                                              self.disk.cut("random", self.rng)))
        self.cuts += 1

    def run_until_cut(self, vm, port, before):
        is_early = self.rng.random() < EARLY_SHARE
        cut_at = time.monotonic() + (self.rng.uniform(0, EARLY_S) if is_early else READY_S)
        text, first_mol = b"", None
        while time.monotonic() < cut_at:
            if select.select([port], [], [], max(0, cut_at - time.monotonic()))[0]:
                text += port.recv(65536)
                if first_mol is None and b"\n" in text:
                    first_mol = float(text.split()[3])
                    self.judge(vm, before, first_mol)
                    cut_at = cut_at if is_early else time.monotonic() + self.rng.uniform(0, LATE_S)
        if first_mol is None and not is_early:
            self.fail("no answer from the daemon\n" + vm.sh("cat /run/daemon.log").out)
        vm.kill()
        port.settimeout(5)                                     # what had left the machine before the cut
        try:
            for more in iter(lambda: port.recv(65536), b""):
                text += more
        except OSError:
            pass
        self.take(text)
        self.early += first_mol is None
        self.seen += first_mol is not None

    def run(self, cuts, until_s):
        while self.cuts < cuts and len(self.wrong) < 5 and time.monotonic() < until_s:
            self.cycle()


def main():
    with tempfile.TemporaryDirectory(prefix="lampwarden-cut-") as folder:
        lines = []
        for number in range(LINES):
            os.mkdir(os.path.join(folder, str(number)))
        together(*(lambda n=n: lines.append(Line(n, os.path.join(folder, str(n)))) for n in range(LINES)))
        began = time.monotonic()
        together(*(lambda line=line: line.run(CUTS // LINES, began + LIMIT_S) for line in lines))
        took = time.monotonic() - began
    total = {name: sum(getattr(line, name) for line in lines)
             for name in ("cuts", "seen", "early", "acknowledged", "kept", "lost")}
    print("seed %d: %d cuts in %.0f s; %d starts looked at, %d cut before that; %d answers acknowledged; "
          "of unflushed sectors %d kept, %d lost" % (SEED, total["cuts"], took, total["seen"], total["early"],
                                                      total["acknowledged"], total["kept"], total["lost"]))
    check("after each of %d cuts: sound, nothing acknowledged is missing, the same mol" % total["cuts"],
          not sum((line.wrong for line in lines), []), "\n".join(sum((line.wrong for line in lines), [])))
    check("%d of %d cuts were made" % (total["cuts"], CUTS), total["cuts"] >= CUTS, "%.0f s of %d s" % (took, LIMIT_S))
    check("the cuts took something", total["lost"] > 0 and total["seen"] > total["cuts"] / 4, total)
    done()


main()
