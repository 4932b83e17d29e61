# SPDX-License-Identifier: Apache-2.0
"""The real programs in the machine: a configuration, the daemon, what it says."""
import json

from machine import MachineError, until

SITE = 'site = { name = "Propagation room (invented)"; utc_offset = "+00:00"; };\n'
CONTROL = 'journal = { path = "/data/journal.db"; commit_s = 5.0; };\n' \
          'control = { socket = "/run/lampwarden/control"; };\n'
CURVE = "( { drive = 0.1; level = 0.1; watts = 30.0; }, { drive = 1.0; level = 1.0; watts = 300.0; } )"
DARK_CURVE = CURVE.replace("( ", "( { drive = 0.0; level = 0.0; watts = 0.0; }, ", 1)     # for a lamp without a switch


def day(lights_on="00:00", hours=23.5, target_mol=8.0, extra=""):
    """One stage that is lit nearly the whole day, without ramps: what a test of outputs needs."""
    return ('stages = ( { name = "leaf"; days = 0; lights_on = "%s"; day_length_h = %.2f; target_mol = %.2f; '
            'dawn_min = 0.0; dusk_min = 0.0; %s } );\n' % (lights_on, hours, target_mol, extra))


def fixture(name, dim="", switch="", extra=""):
    curve = CURVE if switch else DARK_CURVE
    dim = 'dim = "%s"; ' % dim if dim else ""
    switch = 'switch = "%s"; ' % switch if switch else ""
    return ('{ name = "%s"; %s%sppfd_full = 400.0; curve = %s; '
            "switching = { min_on_s = 2.0; min_off_s = 2.0; settle_s = 1.0; }; %s }" % (name, dim, switch, curve, extra))


def space(name, fixtures, extra=""):
    return ('{ name = "%s"; fixtures = [ %s ]; stages = [ "leaf" ]; start = "2020-01-01"; '
            'light_day_start = "00:00"; rise_percent_per_min = 6000.0; fall_percent_per_min = 6000.0; '
            'clock_policy = "carry-on"; %s }' % (name, ", ".join('"%s"' % f for f in fixtures), extra))


def config(buses, outputs, fixtures, spaces, sensors=(), stages=None, tail=CONTROL):
    """Lists of libconfig groups as text → the whole file."""
    def part(name, groups):
        return "%s = (\n  %s );\n" % (name, ",\n  ".join(groups)) if groups else ""
    return (SITE + part("buses", buses) + part("sensors", sensors) + part("outputs", outputs)
            + part("fixtures", fixtures) + (stages or day()) + part("spaces", spaces) + tail)


class Daemon:
    def __init__(self, vm, text, path="/run/lamp.conf"):
        self.vm, self.path = vm, path
        vm.put(text.encode(), path, 0o644)

    def check(self):
        return self.vm.sh("lampwarden check %s" % self.path)

    def start(self, ready=True, seconds=40):
        """Returns when status is answered and, with ready, every output is decided."""
        self.vm.must("mkdir -p /run/lampwarden /data/state; cd /run; lampwardend --config %s "
                     "--state /data/state >> /run/daemon.log 2>&1 & echo $! > /run/daemon.pid" % self.path)
        def has_begun():
            status = self.status()
            return status is not None and (not ready or status["is_ready"])
        if not until(lambda: has_begun() or not self.running(), seconds) or not self.running():
            raise MachineError("the daemon did not get ready:\n" + self.log())
        return self

    def log(self):
        return self.vm.sh("cat /run/daemon.log").out

    def status(self):
        """status --json as Python sees it; None while nobody answers."""
        result = self.vm.sh("lampwarden status --json 2>/dev/null")
        return json.loads(result.out) if result.ok and result.out else None

    def fixture(self, name):
        """The fixture's part of the status, wherever it is."""
        for a_space in self.status()["spaces"]:
            for a_fixture in a_space["fixtures"]:
                if a_fixture["fixture"] == name:
                    return a_fixture
        raise MachineError("no fixture %s in the status" % name)

    def hold(self, a_space, level):
        """By hand for an hour: a level is a share of full light, which with our curves is the drive as well."""
        self.vm.must("lampwarden hold %s %.4f --for 1h" % (a_space, level))

    def running(self):
        return self.vm.sh("kill -0 $(cat /run/daemon.pid)").ok

    def signal(self, name):
        self.vm.must("kill -%s $(cat /run/daemon.pid)" % name)

    def stop(self, signal="TERM", seconds=20):
        self.signal(signal)
        if not until(lambda: not self.running(), seconds):
            raise MachineError("the daemon did not end after %s:\n%s" % (signal, self.log()))

    def make_safe(self):
        return self.vm.sh("lampwarden-make-safe")
