# SPDX-License-Identifier: Apache-2.0
"""a disk with a volatile write cache, served over NBD.

SIGKILL to QEMU alone is a kind power cut: what the guest has written is in the
host's page cache and stays.  A real disk may lose, and may reorder, whatever
was not flushed.  This server keeps the writes since the last flush apart, and
cut() decides, sector by sector, which of them the "disk" still had time for.
Its sectors have 4 KiB, as flash pages and the sectors of today's disks do: the
journal of ext4 counts on a whole commit block and refuses the mount after half
a one, whatever the programs above it do.

    disk = VolatileDisk("/tmp/x.sock", image="data.img")
    ... QEMU with -drive file=nbd+unix:///?socket=/tmp/x.sock,format=raw,cache=none
    ... kill QEMU
    disk.cut("random", rng)       # or "none", "all", "prefix"
    ... QEMU again, on what is left
"""
import os
import socket
import struct
import threading

SECTOR = 4096


class VolatileDisk:
    def __init__(self, path, image=None, size=None):
        self.stable = bytearray(open(image, "rb").read() if image else size)
        self.view = bytearray(self.stable)
        self.pending = []
        self.flushes = self.writes = 0
        self.ignore_flush = False       # a disk that lies
        self.lock = threading.Lock()
        if os.path.exists(path):
            os.unlink(path)
        self.listener = socket.socket(socket.AF_UNIX)
        self.listener.bind(path)
        self.listener.listen(4)
        self.idle = threading.Event()
        self.idle.set()
        threading.Thread(target=self._accept, daemon=True).start()

    # -- the power ----------------------------------------------------------
    def cut(self, how, rng=None):
        """Lose (part of) what was not flushed; gives (kept, lost) sectors."""
        self.idle.wait(5)               # QEMU's last bytes have been read
        kept = lost = 0
        with self.lock:
            limit = rng.randrange(len(self.pending) + 1) if how == "prefix" else None
            for i, (at, data) in enumerate(self.pending):
                for o in range(0, len(data), SECTOR):
                    if how == "all" or (how == "random" and rng.random() < 0.5) or \
                            (how == "prefix" and i < limit):
                        piece = data[o:o + SECTOR]
                        self.stable[at + o:at + o + len(piece)] = piece
                        kept += 1
                    else:
                        lost += 1
            self.pending = []
            self.view[:] = self.stable
        return kept, lost

    def save(self, path):
        with open(path, "wb") as f:
            f.write(self.stable)

    # -- NBD, newstyle ------------------------------------------------------
    def _accept(self):
        while True:
            try:
                c, _ = self.listener.accept()
            except OSError:
                return
            self.idle.clear()
            threading.Thread(target=self._serve, args=(c,), daemon=True).start()

    @staticmethod
    def _recv(c, n):
        out = bytearray()
        while len(out) < n:
            d = c.recv(n - len(out))
            if not d:
                raise ConnectionError
            out += d
        return bytes(out)

    def _serve(self, c):
        try:
            if self._handshake(c):
                while self._request(c):
                    pass
        except (ConnectionError, OSError):
            pass
        finally:
            c.close()
            self.idle.set()

    def _handshake(self, c):
        flags = 1 | 4 | 8 | 64          # has-flags, flush, FUA, write-zeroes
        c.sendall(b"NBDMAGICIHAVEOPT" + struct.pack(">H", 3))
        self._recv(c, 4)
        while True:
            magic, option, length = struct.unpack(">8sII", self._recv(c, 16))
            self._recv(c, length)

            def reply(kind, data=b""):
                c.sendall(struct.pack(">QIII", 0x3e889045565a9, option, kind, len(data)) + data)
            if option == 1:             # export name: straight to work
                c.sendall(struct.pack(">QH", len(self.view), flags))
                return True
            if option in (6, 7):        # info, go
                reply(3, struct.pack(">HQH", 0, len(self.view), flags))
                reply(1)
                if option == 7:
                    return True
            elif option == 2:           # abort
                reply(1)
                return False
            else:
                reply(0x80000001)       # not supported

    def _flush(self):
        self.flushes += 1
        if self.ignore_flush:
            return
        for at, data in self.pending:
            self.stable[at:at + len(data)] = data
        self.pending = []

    def _request(self, c):
        _, flags, kind, handle, at, length = struct.unpack(">IHHQQI", self._recv(c, 28))
        data = b""
        if kind == 1:
            data = self._recv(c, length)
        with self.lock:
            out = b""
            if kind == 0:
                out = bytes(self.view[at:at + length])
            elif kind in (1, 6):
                data = data if kind == 1 else bytes(length)
                self.view[at:at + length] = data
                self.pending.append((at, data))
                self.writes += 1
            elif kind == 2:
                return False
            if kind == 3 or flags & 1:
                self._flush()
        c.sendall(struct.pack(">IIQ", 0x67446698, 0, handle) + out)
        return True
