# SPDX-License-Identifier: Apache-2.0
"""The machine of the kernel tests: a real Linux in QEMU, without hardware.

    from machine import VM, until
    with VM() as vm:
        vm.must("load gpio-sim")
        vm.put("build/daemon", "/bin/daemon")

A test is given BUILD and SOURCE as arguments; the image that prepare.sh made
stands in BUILD/kernel, the kernel in the cache folder. Only the standard
library is used. A VM object ends its own QEMU process and no other: by the
pid it got when it started it.

    VM.sh, VM.must      run a shell script in the machine (busybox sh)
    VM.put, VM.get      files in and out
    VM.trace, VM.traced what the kernel did to the hardware, with its times
    VM.save, loadvm=    freeze a machine and go on from there, 0.2 s
    VM.qmp              QEMU's own monitor
    VM.kill             a power cut
    until               wait for a condition with a deadline
    together            parts of a test, each with its own machine, at the same time
"""
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time

CACHE = os.environ.get("LAMPWARDEN_KERNEL_CACHE") or os.path.join(
    os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache"), "lampwarden-kernel")
BUILD = os.path.abspath(sys.argv[1] if len(sys.argv) > 1 else "build-test")


def until(condition, seconds=10, step=0.05):
    """True as soon as condition() is, False at the deadline."""
    end = time.monotonic() + seconds
    while True:
        if condition():
            return True
        if time.monotonic() > end:
            return False
        time.sleep(step)


def together(*parts):
    """Calls the functions, each in a thread of its own. What one raises comes out when all have ended."""
    trouble = []

    def run(part):
        try:
            part()
        except BaseException as error:
            trouble.append(error)
    threads = [threading.Thread(target=run, args=(part,)) for part in parts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if trouble:
        raise trouble[0]


class Result:
    """What a script in the guest did."""

    def __init__(self, status, out):
        self.status = status
        self.out = out.decode("utf-8", "replace")
        self.ok = status == 0

    def __repr__(self):
        return "Result(%d, %r)" % (self.status, self.out)


class MachineError(Exception):
    pass


def kvm_works():
    """True where /dev/kvm can run an unmodified kernel.

    That the device opens proves little: some hosts offer a KVM that only runs
    kernels written for it.  CPU flags tell: hardware virtualisation shows as
    vmx or svm.
    """
    try:
        with open("/proc/cpuinfo") as f:
            flags = f.read()
        if not re.search(r"^flags\s*:.*\b(vmx|svm)\b", flags, re.M):
            return False
        fd = os.open("/dev/kvm", os.O_RDWR)
        os.close(fd)
        return True
    except OSError:
        return False


class VM:
    def __init__(self, *, memory=256, accel=None, cpus=1, disk=None,
                 disk_cache="writethrough", serials=0, append="", extra=(),
                 rtc=None, icount=None, initrd=None, kernel=None,
                 loadvm=None, start=True, workdir=None, wait=60):
        """serials: how many 16550 ports beside the console, ttyS1 on; each is
        a unix socket, self.serial_path(n).  extra: more QEMU arguments."""
        self.memory, self.cpus, self.disk, self.disk_cache = memory, cpus, disk, disk_cache
        self.accel = accel or ("kvm" if kvm_works() else "tcg")
        self.serials, self.append, self.extra = serials, append, list(extra)
        self.rtc, self.icount = rtc, icount
        self.initrd = initrd or os.path.join(BUILD, "kernel", "image.cpio")
        self.kernel = kernel or os.path.join(CACHE, "kernel", "vmlinux")
        self.loadvm, self.wait = loadvm, wait
        self.dir = workdir or tempfile.mkdtemp(prefix="lampwarden-vm-")
        self._own_dir = workdir is None
        self.proc = None
        self.sock = None
        self.qmp_sock = None
        self.boot_seconds = None
        if start:
            self.start()

    # -- life ---------------------------------------------------------------
    def path(self, name):
        return os.path.join(self.dir, name)

    def serial_path(self, n=1):
        return self.path("ttyS%d.sock" % n)

    @property
    def console(self):
        try:
            with open(self.path("console.log"), "rb") as f:
                return f.read().decode("utf-8", "replace")
        except FileNotFoundError:
            return ""

    def command(self):
        a = ["qemu-system-x86_64", "-nodefaults", "-display", "none", "-no-reboot",
             "-machine", "pc", "-m", str(self.memory), "-smp", str(self.cpus),
             "-kernel", self.kernel, "-initrd", self.initrd,
             "-chardev", "file,id=con,path=" + self.path("console.log"),
             "-serial", "chardev:con",
             "-chardev", "socket,id=qmp,server=on,wait=off,path=" + self.path("qmp.sock"),
             "-mon", "chardev=qmp,mode=control"]
        if self.accel == "kvm":
            a += ["-accel", "kvm", "-cpu", "host"]
        else:
            # With rdrand trusted the kernel's random pool is ready at once; else
            # the first reader of /dev/urandom (SQLite, say) loses a second.
            a += ["-accel", "tcg,thread=%s" % ("multi" if self.cpus > 1 else "single"),
                  "-cpu", "qemu64,+rdrand"]
        a += ["-device", "virtio-serial-pci",
              "-chardev", "socket,id=agent,server=on,wait=off,path=" + self.path("agent.sock"),
              "-device", "virtserialport,chardev=agent,name=lampwarden.agent"]
        for n in range(1, self.serials + 1):
            a += ["-chardev", "socket,id=s%d,server=on,wait=off,path=%s"
                  % (n, self.serial_path(n)), "-serial", "chardev:s%d" % n]
        append = "console=ttyS0 quiet loglevel=4 panic=-1 " \
                 "mitigations=off nokaslr no_timer_check tsc=reliable " \
                 "cryptomgr.notests random.trust_cpu=on " + self.append
        if self.disk:
            a += ["-drive", "file=%s,format=raw,if=none,id=d0,cache=%s"
                  % (self.disk, self.disk_cache),
                  "-device", "virtio-blk-pci,drive=d0"]
        if self.rtc:
            a += ["-rtc", self.rtc]
        if self.icount:
            a += ["-icount", self.icount]
        if self.loadvm:
            a += ["-incoming", "exec:cat " + self.loadvm]
        return a + ["-append", append] + self.extra

    def start(self):
        """A kernel that was disturbed while it measured its clock lives at another speed than we do, and every
        time-out in it is wrong: such a machine is started again."""
        for _ in range(5):
            began = time.monotonic()
            with open(self.path("qemu.err"), "wb") as err:
                self.proc = subprocess.Popen(self.command(), stdin=subprocess.DEVNULL, stdout=err, stderr=err)
            self._connect(began)
            self.boot_seconds = time.monotonic() - began
            if self.icount or self.loadvm or self._keeps_time():
                return self
            print("      a machine's clock runs wrong: started again")
            self.kill()
        raise MachineError("no machine with a right clock")

    def _keeps_time(self, seconds=0.5):
        """False when the machine's clock cannot be right, however long it took to answer."""
        def look():
            asked = time.monotonic()
            uptime = float(self.must("cat /proc/uptime").split()[0])
            return asked, uptime, time.monotonic()
        first = look()
        time.sleep(seconds)
        second = look()
        passed = second[1] - first[1]
        return 0.7 * (second[0] - first[2]) < passed < 1.4 * (second[2] - first[0])

    def _connect(self, began):
        deadline = began + self.wait
        while True:
            if self.proc.poll() is not None:
                raise MachineError("QEMU ended: %s\n%s" % (
                    open(self.path("qemu.err")).read(), self.console[-2000:]))
            if time.monotonic() > deadline:
                self.kill()
                raise MachineError("no agent after %d s\n%s" % (self.wait, self.console[-2000:]))
            try:
                s = socket.socket(socket.AF_UNIX)
                s.connect(self.path("agent.sock"))
                break
            except OSError:
                s.close()
                time.sleep(0.005)
        self.sock = s
        self.file = s.makefile("rwb")
        s.settimeout(self.wait)
        if self.loadvm:
            return                      # the agent said HELLO before it was frozen
        try:
            hello = self.file.readline()
        except socket.timeout:
            self.kill()
            raise MachineError("no HELLO\n" + self.console[-2000:])
        if hello != b"HELLO\n":
            code = self.proc.poll()
            raise MachineError("agent said %r (QEMU %s)\n%s" % (hello, code, self.console[-3000:]))

    def kill(self):
        """A power cut: SIGKILL to this QEMU.  Nothing is flushed."""
        if self.proc and self.proc.poll() is None:
            self.proc.send_signal(signal.SIGKILL)
        if self.proc:
            self.proc.wait()
        for s in (self.sock, self.qmp_sock):
            if s:
                s.close()
        self.sock = self.qmp_sock = None

    def close(self):
        self.kill()
        if self._own_dir:
            shutil.rmtree(self.dir, ignore_errors=True)

    def __enter__(self):
        return self

    def __exit__(self, *exc):
        self.close()

    # -- the agent ----------------------------------------------------------
    def _answer(self):
        line = self.file.readline()
        if line == b"HELLO\n":
            line = self.file.readline()
        m = re.match(rb"R (-?\d+) (\d+)\n", line)
        if not m:
            raise MachineError("agent answered %r\n%s" % (line, self.console[-2000:]))
        return Result(int(m.group(1)), self.file.read(int(m.group(2))))

    def sh(self, script, timeout=60):
        """Run a shell script in the guest and wait for it."""
        data = script.encode()
        self.sock.settimeout(timeout)
        self.file.write(b"X %d\n" % len(data) + data)
        self.file.flush()
        return self._answer()

    def must(self, script, timeout=60):
        """As sh(), but a failure is an error; gives the output, stripped."""
        r = self.sh(script, timeout)
        if not r.ok:
            raise MachineError("%r failed: %d\n%s" % (script, r.status, r.out))
        return r.out.strip()

    def put(self, source, path, mode=0o755):
        data = source if isinstance(source, bytes) else open(source, "rb").read()
        self.file.write(b"P %o %d %s\n" % (mode, len(data), path.encode()) + data)
        self.file.flush()
        r = self._answer()
        if not r.ok:
            raise MachineError(r.out)

    def get(self, path):
        self.file.write(b"G %s\n" % path.encode())
        self.file.flush()
        return self._answer()

    # -- what the kernel did to the hardware --------------------------------
    def trace(self, *events):
        """Start recording kernel trace events: gpio, pwm, i2c, smbus, watchdog."""
        self.must("cd /sys/kernel/tracing; " + "".join(
            "echo 1 > events/%s/enable; " % e for e in events) + "echo > trace")

    def traced(self):
        """[(seconds, event, text)] since trace(); the clock is the guest's."""
        out = []
        for line in self.must("cat /sys/kernel/tracing/trace").splitlines():
            m = re.match(r".*\s(\d+\.\d+): (\w+): (.*)", line)
            if m and not line.startswith("#"):
                out.append((float(m.group(1)), m.group(2), m.group(3)))
        return out

    # -- saved states -------------------------------------------------------
    def save(self, path):
        """Freeze this machine into a file; VM(loadvm=path) with the same other
        arguments goes on from there in about a quarter of a second."""
        self.qmp("migrate", uri="exec:cat > " + path)
        while True:
            status = self.qmp("query-migrate")["status"]
            if status == "completed":
                return
            if status == "failed":
                raise MachineError("save failed")
            time.sleep(0.02)

    # -- QEMU itself --------------------------------------------------------
    def qmp(self, command, **arguments):
        if self.qmp_sock is None:
            self.qmp_sock = socket.socket(socket.AF_UNIX)
            self.qmp_sock.connect(self.path("qmp.sock"))
            self.qmp_file = self.qmp_sock.makefile("rwb")
            self.qmp_file.readline()
            self.qmp("qmp_capabilities")
        m = {"execute": command}
        if arguments:
            m["arguments"] = arguments
        self.qmp_file.write(json.dumps(m).encode() + b"\n")
        self.qmp_file.flush()
        while True:
            reply = json.loads(self.qmp_file.readline())
            if "return" in reply:
                return reply["return"]
            if "error" in reply:
                raise MachineError(reply["error"]["desc"])
