#!/usr/bin/env python3
"""Does a live watch hold out? Ten positions a second for hours, and what fails of feeds, screen, door and computer (Linux).

    cargo build --release
    tests/bench/soak.py target/release/nightrode HOURS [SEED]

The program as it is run, with its screen in a pseudo-terminal: positions over UDP, compass and wind over TCP, nonsense over a
third feed. Every 20 to 60 s something fails: holes, flipped bits, nonsense, floods, a receiver that is frozen or leaps, links
cut, mute or without an end of line, the program stopped for seconds, a screen that nobody reads or that changes size, keys at
random, strangers at the door. Each minute its memory, files, threads and processor time, from /proc, and how it says that it
stands, by `act status`. What should have been reported and was not is a line that begins with WRONG. At the end she goes off,
and must be called; then what the ride holds is counted against what was sent.
"""
import fcntl
import json
import math
import os
import pty
import random
import re
import select
import signal
import socket
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time
from pathlib import Path

from live import BOAT, degrees, free_port, sentence, status

# Positions a second.
RATE = 10
# Without a position for 15 s it is reported, and some.
MISSED_WITHIN = 20
# Beyond the circle: the leave to be outside, the time that a leap is doubted, and some, as in tests/faults.
CALLED_WITHIN = 75


def position(t, away_m, fixed=None):
    """Two sentences of a receiver: she sheers 25 m below her anchor, or has gone off."""
    t = t if fixed is None else fixed
    lies = math.radians(20 + 20 * math.sin(math.tau * t / 90))
    lat = degrees(52 + (25 * math.cos(lies) + away_m + random.gauss(0, 0.3)) / 111250, 2)
    lon = degrees(20 - (25 * math.sin(lies) + random.gauss(0, 0.3)) / 68700, 3)
    clock = time.strftime("%H%M%S", time.gmtime(t)) + f".{int(t * 10) % 10}0"
    date = time.strftime("%d%m%y", time.gmtime(t))
    return [sentence(f"GPRMC,{clock},A,{lat},N,{lon},W,0.3,200.0,{date},,,A"),
            sentence(f"GPGGA,{clock},{lat},N,{lon},W,1,11,0.9,3.0,M,50.0,M,,")]


def beside(t):
    heading = (200 + 32 * math.sin(math.tau * t / 90)) % 360
    return b"".join([sentence(f"HEHDT,{heading:.1f},T"),
                     sentence(f"WIMWV,{(200 - heading) % 360:.1f},R,{12 + math.sin(t):.1f},N,A"),
                     sentence("SDDPT,6.0,0.5,100.0")])


class Soak:
    def __init__(self, program, folder, seed):
        self.program, self.folder, self.chance = program, Path(folder), random.Random(seed)
        self.begun = time.monotonic()
        # How the feeds are: what the sender looks at before each position.
        self.hole = self.flips = self.is_read_not = False
        self.away_m, self.fixed = 0.0, None
        self.link, self.sent, self.drawn, self.links = "open", 0, 0, 0
        self.wrong, self.failed, self.most = [], {}, {"now": 0, "threads": 0, "files": 0}
        self.over = threading.Event()
        (self.folder / "boat.toml").write_text(BOAT)
        # Its door lies where no other watch's does.
        runtime = self.folder / "runtime"
        runtime.mkdir(mode=0o700)
        self.environment = {**os.environ, "HOME": folder, "XDG_RUNTIME_DIR": str(runtime), "TERM": "xterm-256color"}
        self.environment.pop("COLORTERM", None)
        self.gps, self.odd = free_port(), free_port()
        self.server = self.listen(0)
        self.tcp = self.server.getsockname()[1]
        self.pid, self.screen = pty.fork()
        if self.pid == 0:
            os.execve(program, [program, "--config", folder, "watch", "--silent", "--rides", folder + "/rides",
                                f"gps=udp:{self.gps}", f"compass=tcp:127.0.0.1:{self.tcp}", f"odd=udp:{self.odd}"],
                      self.environment)
        self.size(40, 120)
        for work in (self.read, self.send, self.serve):
            threading.Thread(target=work, daemon=True).start()

    @staticmethod
    def listen(port):
        server = socket.socket()
        server.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        server.bind(("127.0.0.1", port))
        server.listen()
        return server

    def say(self, words):
        print(f"{(time.monotonic() - self.begun) / 60:6.1f} min  {words}", flush=True)

    def is_wrong(self, words):
        self.wrong.append(words)
        self.say("WRONG: " + words)

    def size(self, rows, columns):
        fcntl.ioctl(self.screen, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    # What runs all the time.

    def read(self):
        while True:
            if self.is_read_not:
                time.sleep(0.1)
                continue
            try:
                if select.select([self.screen], [], [], 0.5)[0]:
                    self.drawn += len(os.read(self.screen, 65536))
            except OSError:
                return

    def send(self):
        to, due = socket.socket(socket.AF_INET, socket.SOCK_DGRAM), time.time()
        while not self.over.is_set():
            due = max(due + 1 / RATE, time.time() - 1 / RATE)
            time.sleep(max(0, due - time.time()))
            if self.hole:
                continue
            for line in position(time.time(), self.away_m, self.fixed):
                if self.flips and self.chance.random() < 0.5:
                    at = self.chance.randrange(len(line))
                    line = line[:at] + bytes([line[at] ^ 1 << self.chance.randrange(8)]) + line[at + 1:]
                to.sendto(line, ("127.0.0.1", self.gps))
            self.sent += 1

    def serve(self):
        """Whoever connects is told heading, wind and depth ten times a second, while the link is open."""
        peer = None
        while not self.over.is_set():
            time.sleep(1 / RATE)
            if self.link == "cut":
                for gone in filter(None, (peer, self.server)):
                    gone.close()
                peer = self.server = None
                continue
            try:
                if self.server is None:
                    self.server = self.listen(self.tcp)
                if select.select([self.server], [], [], 0)[0]:
                    peer = self.server.accept()[0]
                    peer.settimeout(1)
                    self.links += 1
                if peer is not None and self.link == "open":
                    peer.sendall(beside(time.time()))
                elif peer is not None and self.link == "endless":
                    peer.sendall(b"x" * 100_000)
            except OSError:
                if peer is not None:
                    peer.close()
                peer = None

    # What can be seen from outside.

    def act(self, *words):
        try:
            done = subprocess.run([self.program, "--config", str(self.folder), "act", *words], env=self.environment,
                                  capture_output=True, timeout=20)
        except subprocess.TimeoutExpired:
            return None
        return done.stdout.decode(errors="replace")

    def stands(self):
        try:
            return json.loads(self.act("status", "--json") or "")
        except ValueError:
            self.is_wrong("no answer to `act status`")
            return None

    def expect(self, kind, why):
        now = self.stands()
        if now and kind not in [alert["kind"] for alert in now["alerts"]]:
            self.is_wrong(f"{why}: no {kind}: {[alert['kind'] for alert in now['alerts']]}")

    def sample(self):
        now, files = status(self.pid), len(os.listdir(f"/proc/{self.pid}/fd"))
        self.most = {"now": max(self.most["now"], now["peak"]), "threads": max(self.most["threads"], now["threads"]),
                     "files": max(self.most["files"], files)}
        says = self.stands()
        if says and not says["judges"]:
            self.is_wrong("it judges nothing")
        if says and abs(says["at"] / 1000 - time.time()) > 5:
            self.is_wrong(f"it has judged until {says['time']}")
        on_disk = sum(file.stat().st_size for file in self.folder.glob("rides/*/*") if file.is_file())
        kinds = [f"{alert['kind']} {alert['state']}" for alert in says["alerts"]] if says else []
        self.say(f"memory {now['now']:.1f} MiB, at most {now['peak']:.1f}; {now['threads']} threads, {files} files; "
                 f"processor {now['cpu']:.1f} s; sent {self.sent}; ride {on_disk / 1e6:.1f} MB; "
                 f"drawn {self.drawn / 1e6:.1f} MB; links {self.links}; failed {sum(self.failed.values())}; {kinds}")

    def let_go(self):
        time.sleep(15)
        for words in (["mark"], ["veer", "35"], ["up"]):
            self.act(*words)
            time.sleep(2)
        says = self.stands()
        if not says or says["stage"] != "brought_up":
            sys.exit(f"the anchor did not go down: {says}")

    # What fails.

    def holes(self):
        self.hole, long = True, self.chance.uniform(3, 50)
        time.sleep(long)
        if long > MISSED_WITHIN:
            self.expect("fix_lost", f"{long:.0f} s without a position")
        self.hole = False

    def flipped(self):
        self.flips = True
        time.sleep(self.chance.uniform(5, 25))
        self.flips = False

    def nonsense(self, port=None, lines=1_000, longest=200):
        to = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        for _ in range(lines):
            to.sendto(self.chance.randbytes(self.chance.randrange(1, longest)), ("127.0.0.1", port or self.gps))
            time.sleep(0.002)

    def floods(self):
        to, until = socket.socket(socket.AF_INET, socket.SOCK_DGRAM), time.monotonic() + self.chance.uniform(2, 10)
        lines = [sentence(f"WIMWV,{n % 360}.0,R,{n % 40}.0,N,A") * 8 for n in range(50)]
        while time.monotonic() < until:
            for line in lines:
                to.sendto(line, ("127.0.0.1", self.odd))
            time.sleep(0.005)

    def odd_one(self):
        self.nonsense(self.odd, 2_000, 1_400)

    def frozen(self):
        self.fixed = time.time()
        time.sleep(self.chance.uniform(5, 40))
        self.fixed = None

    def leaps(self):
        self.away_m = self.chance.choice((-1, 1)) * self.chance.uniform(200, 20_000)
        time.sleep(self.chance.uniform(0.5, 5))
        self.away_m = 0.0

    def linked(self, how, shortest, longest):
        self.link = how
        time.sleep(self.chance.uniform(shortest, longest))
        self.link = "cut"
        time.sleep(1)
        self.link = "open"

    def cut(self):
        self.linked("cut", 2, 40)

    def mute(self):
        self.linked("mute", 20, 90)

    def endless(self):
        self.linked("endless", 3, 15)

    def stopped(self):
        os.kill(self.pid, signal.SIGSTOP)
        long = self.chance.uniform(1, 25)
        time.sleep(long)
        os.kill(self.pid, signal.SIGCONT)
        time.sleep(3)
        if long > 12:
            self.expect("gap", f"stopped for {long:.0f} s")

    def unread(self):
        self.is_read_not = True
        time.sleep(self.chance.uniform(5, 40))
        self.is_read_not = False

    def sizes(self):
        for _ in range(60):
            self.size(self.chance.randrange(1, 90), self.chance.randrange(1, 300))
            time.sleep(self.chance.uniform(0, 0.3))
        self.size(40, 120)

    def keys(self):
        # Views and what is shown; nothing that ends the watch or moves the mark.
        for _ in range(80):
            os.write(self.screen, self.chance.choice(b"12345678vVozZ0?pbsan").to_bytes(1, "big"))
            time.sleep(self.chance.uniform(0, 0.2))
            os.write(self.screen, b"\x1b")
            time.sleep(0.1)

    def strangers(self):
        peers = []
        for door in self.folder.glob("runtime/nightrode/*"):
            for _ in range(40):
                try:
                    peer = socket.socket(socket.AF_UNIX)
                    peer.settimeout(1)
                    peer.connect(str(door))
                    peer.sendall(self.chance.randbytes(self.chance.randrange(1, 5_000)))
                    peers.append(peer)
                except OSError:
                    pass
        time.sleep(self.chance.uniform(1, 15))
        for peer in peers:
            peer.close()
        # A place at the door is free again.
        time.sleep(2)

    def run(self, hours):
        self.let_go()
        until, minute = time.monotonic() + hours * 3600, 0.0
        happenings = [self.holes, self.flipped, self.nonsense, self.floods, self.odd_one, self.frozen, self.leaps, self.cut,
                      self.mute, self.endless, self.stopped, self.unread, self.sizes, self.keys, self.strangers]
        while time.monotonic() < until:
            next_at = time.monotonic() + self.chance.uniform(20, 60)
            while time.monotonic() < next_at:
                if time.monotonic() >= minute:
                    minute = time.monotonic() + 60
                    self.sample()
                time.sleep(0.5)
            if os.waitpid(self.pid, os.WNOHANG)[0]:
                self.is_wrong("it has ended")
                return
            happen = self.chance.choice(happenings)
            self.failed[happen.__name__] = self.failed.get(happen.__name__, 0) + 1
            happen()
            self.act("acknowledge")
        self.goes_off()
        self.count()

    def goes_off(self):
        """At five knots and a half, beyond her circle; then how long until it is called."""
        time.sleep(60)
        self.act("acknowledge")
        beyond = None
        for _ in range(150):
            self.away_m += 2.8
            time.sleep(1)
            says = self.stands()
            if says and beyond is None and says.get("room_m", 1) < 0:
                beyond = time.monotonic()
            if says and any(alert["kind"] in ("outside", "drag") for alert in says["alerts"]):
                self.say(f"called, she has gone {self.away_m:.0f} m"
                         + (f", {time.monotonic() - beyond:.0f} s beyond her circle" if beyond else ""))
                return
            if beyond and time.monotonic() - beyond > CALLED_WITHIN:
                break
        self.is_wrong("she goes off and nothing is called")

    def count(self):
        self.sample()
        self.over.set()
        os.kill(self.pid, signal.SIGTERM)
        code = os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])
        kept = sum(len(re.findall(rb"\$GPRMC,", night.read_bytes())) for night in self.folder.glob("rides/*/night.nmea"))
        self.say(f"ended with code {code}; sent {self.sent} positions, {kept} are in the ride")
        self.say(f"what failed: {dict(sorted(self.failed.items()))}")
        self.say(f"at most {self.most['now']:.1f} MiB, {self.most['threads']} threads, {self.most['files']} files; "
                 f"{len(self.wrong)} wrong")


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    with tempfile.TemporaryDirectory() as made:
        soak = Soak(os.path.abspath(sys.argv[1]), made, int(sys.argv[3]) if len(sys.argv) > 3 else 1)
        soak.run(float(sys.argv[2]))
        sys.exit(1 if soak.wrong else 0)
