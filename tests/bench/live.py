#!/usr/bin/env python3
"""What does a live watch cost, and how soon does it call? Measures the program as it is run (Linux).

    cargo build --release
    tests/bench/live.py cost target/release/nightrode [SECONDS [--headless] [--phone]]
    tests/bench/live.py latency target/release/nightrode [TIMES]

`cost`: six kinds of sentence once a second over UDP, an anchor down, the screen at 120x40 in a pseudo-terminal.
Processor time, memory, voluntary context switches of all threads, and bytes drawn, from /proc. Without a screen with
`--headless`; with the page for phones and one phone that shows it with `--phone`.

`latency`: shallow depths are sent once a second, beginning at any moment; told is the time from the first of them, and from
the second at which the watch found the alert due, to the moment at which the alert's line is read from the program
without a screen. An alert for shallow water asks for 5 s of it, so that one wild sounding is none.
"""
import datetime
import fcntl
import http.client
import math
import os
import pty
import queue
import random
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


def sentence(body):
    total = 0
    for byte in body.encode():
        total ^= byte
    return f"${body}*{total:02X}\r\n".encode()


def degrees(value, width):
    whole = math.floor(value)
    return f"{whole:0{width}d}{(value - whole) * 60:07.4f}"


def second(t, depth=6.0):
    """What a boat sends that sheers 25 m below her anchor."""
    sheer = 20 * math.sin(math.tau * t / 90)
    lies = math.radians(20 + sheer)
    lat = degrees(52 + (25 * math.cos(lies) + random.gauss(0, 0.3)) / 111250, 2)
    lon = degrees(20 - (25 * math.sin(lies) + random.gauss(0, 0.3)) / 68700, 3)
    clock, date = time.strftime("%H%M%S.00", time.gmtime(t)), time.strftime("%d%m%y", time.gmtime(t))
    heading = (200 + 1.6 * sheer) % 360
    return [
        sentence(f"GPRMC,{clock},A,{lat},N,{lon},W,0.3,{heading:.1f},{date},,,A"),
        sentence(f"GPGGA,{clock},{lat},N,{lon},W,1,11,0.9,3.0,M,50.0,M,,"),
        sentence(f"HEHDT,{heading:.1f},T"),
        sentence(f"WIMWV,{(200 - heading) % 360:.1f},R,{12 + sheer / 10:.1f},N,A"),
        sentence(f"SDDPT,{depth:.1f},0.5,100.0"),
        sentence(f"VWVHW,{heading:.1f},T,,M,0.20,N,0.37,K"),
    ]


def free_port():
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]


def status(pid):
    voluntary = forced = 0
    for task in Path(f"/proc/{pid}/task").iterdir():
        for line in (task / "status").read_text().splitlines():
            name, _, value = line.partition(":")
            if name == "voluntary_ctxt_switches":
                voluntary += int(value)
            elif name == "nonvoluntary_ctxt_switches":
                forced += int(value)
    lines = dict(l.split(":", 1) for l in Path(f"/proc/{pid}/status").read_text().splitlines())
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    ticks = os.sysconf("SC_CLK_TCK")
    return {
        "cpu": (int(fields[11]) + int(fields[12])) / ticks,
        "voluntary": voluntary,
        "forced": forced,
        "peak": int(lines["VmHWM"].split()[0]) / 1024,
        "now": int(lines["VmRSS"].split()[0]) / 1024,
        "threads": int(lines["Threads"]),
    }


BOAT = """[boat]
name = "Marram"
loa_m = 10.4
draft_m = 1.75
antenna_aft_of_bow_m = 9.2
[rode]
chain_mm = 8
chain_m = 60
"""


class Screen:
    """The program with its screen, or without, fed once a second; its page, if it has one, is at a port of this computer."""

    def __init__(self, program, folder, headless=False, page=None):
        served = f'[page]\naddress = "127.0.0.1:{page}"\n' if page else ""
        (Path(folder) / "boat.toml").write_text(BOAT + served)
        self.program = program
        self.port, self.drawn, self.stop = free_port(), 0, threading.Event()
        self.pid, self.screen = pty.fork()
        if self.pid == 0:
            os.environ.update(HOME=folder, XDG_RUNTIME_DIR=folder, TERM="xterm-256color")
            os.environ.pop("COLORTERM", None)
            os.execv(program, [program, "--config", folder, "watch", "--silent", "--rides", folder + "/rides",
                               f"gps=udp:{self.port}", *["--headless"] * headless])
        fcntl.ioctl(self.screen, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 120, 0, 0))
        threading.Thread(target=self.read, daemon=True).start()
        threading.Thread(target=self.send, daemon=True).start()

    def read(self):
        while True:
            try:
                self.drawn += len(os.read(self.screen, 65536))
            except OSError:
                return

    def send(self):
        to = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        while not self.stop.wait(1 - time.time() % 1):
            for line in second(time.time()):
                to.sendto(line, ("127.0.0.1", self.port))

    def let_go(self, folder):
        time.sleep(15)
        for words in [["mark"], ["veer", "35"], ["up"]]:
            environment = {"HOME": folder, "XDG_RUNTIME_DIR": folder}
            subprocess.run([self.program, "act", *words], env=environment, check=True)
        # The disk may be busy.
        for _ in range(60):
            time.sleep(1)
            journals = list(Path(folder).glob("rides/*/journal.jsonl"))
            if journals and '"act":"brought_up"' in journals[0].read_text():
                return
        sys.exit("the anchor did not go down")

    def end(self):
        self.stop.set()
        os.kill(self.pid, signal.SIGTERM)
        os.waitpid(self.pid, 0)


def look_on(folder, port):
    """A phone that has read the code, and shows the page until the watch ends."""
    key = next(Path(folder).rglob("page-key")).read_text().strip()
    link = http.client.HTTPConnection("127.0.0.1", port)
    link.request("GET", f"/watch/{key}")
    answer = link.getresponse()
    cookie = answer.getheader("Set-Cookie").partition(";")[0]
    answer.read()
    link = http.client.HTTPConnection("127.0.0.1", port)
    link.request("GET", "/watch/stream", headers={"Cookie": cookie})
    stream = link.getresponse()
    if stream.status != 200:
        sys.exit(f"the page is not shown: {stream.status}")

    def show():
        try:
            while stream.read1(65536):
                pass
        except (http.client.HTTPException, OSError):
            # The watch has ended.
            return

    threading.Thread(target=show, daemon=True).start()


def cost(program, seconds, headless, phone):
    with tempfile.TemporaryDirectory() as folder:
        page = free_port() if phone else None
        watch = Screen(program, folder, headless, page)
        watch.let_go(folder)
        if phone:
            look_on(folder, page)
        time.sleep(20)
        pid = watch.pid
        before, begun, drawn_before = status(pid), time.monotonic(), watch.drawn
        time.sleep(seconds)
        after, span = status(pid), time.monotonic() - begun
        spent, woken = after["cpu"] - before["cpu"], after["voluntary"] - before["voluntary"]
        shown = ("no screen" if headless else "screen 120x40") + (", one phone" if phone else ", no page")
        print(f"over {span:.0f} s, six sentences a second over UDP, {shown}:")
        print(f"  processor   {spent / span * 100:.2f} % of one core, {spent / span * 3600:.1f} s an hour")
        print(f"  memory      {after['now']:.1f} MiB, at most {after['peak']:.1f} MiB")
        print(f"  wake-ups    {woken / span:.1f} a second, {woken / span * 3600:.0f} an hour"
              f" ({after['threads']} threads; {(after['forced'] - before['forced']) / span:.1f} forced)")
        print(f"  drawn       {(watch.drawn - drawn_before) / span:.0f} bytes a second")
        watch.end()


def latency(program, times):
    with tempfile.TemporaryDirectory() as folder:
        watch = Screen(program, folder)
        watch.let_go(folder)
        watch.end()
        port = free_port()
        run = subprocess.Popen(
            [program, "--config", folder, "watch", "--headless", "--silent", "--rides", folder + "/rides",
             f"gps=udp:{port}"],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env={**os.environ, "HOME": folder})
        to = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        lines = queue.Queue()

        def read():
            for line in run.stdout:
                lines.put((time.time(), line.decode().lstrip("\x07")))

        threading.Thread(target=read, daemon=True).start()

        def wait_for(words, longest):
            """When a line with the words was read, and the line."""
            until = time.time() + longest
            while True:
                try:
                    found, line = lines.get(timeout=max(0.001, until - time.time()))
                except queue.Empty:
                    return None
                if any(word in line for word in words):
                    return found, line

        def keep_for(seconds, depth):
            until = time.monotonic() + seconds
            while time.monotonic() < until:
                for line in second(time.time(), depth):
                    to.sendto(line, ("127.0.0.1", port))
                time.sleep(min(1, max(0, until - time.monotonic())))

        wait_for(["watching"], 10)
        keep_for(5, 6.0)
        whole, late = [], []
        for _ in range(times):
            keep_for(8 + random.random(), 6.0)
            while not lines.empty():
                lines.get()
            first = time.time()
            called = None
            while called is None and time.time() < first + 15:
                for told in second(time.time(), 1.5):
                    to.sendto(told, ("127.0.0.1", port))
                called = wait_for(["shallow raised", "shallow returned"], 1)
            if called is None:
                print("not called within 15 s")
                continue
            found, line = called
            due = datetime.datetime.fromisoformat(line.split()[0].replace("Z", "+00:00")).timestamp()
            whole.append(found - first)
            late.append(found - due)
        run.terminate()
        run.wait()
        if not late:
            sys.exit("no alert came")
        tell("from the first shallow sentence to the line", whole)
        tell("from the second at which the alert was due to the line", late)


def tell(what, took):
    took.sort()
    at = lambda share: took[min(len(took) - 1, int(len(took) * share))] * 1000
    print(f"{what}: {len(took)} times, median {at(0.5):.1f} ms, 99 % within {at(0.99):.1f} ms, "
          f"{took[0] * 1000:.1f} to {took[-1] * 1000:.1f} ms")


if __name__ == "__main__":
    if len(sys.argv) < 3 or sys.argv[1] not in ("cost", "latency"):
        sys.exit(__doc__)
    flags = [word for word in sys.argv[3:] if word.startswith("--")]
    numbers = [int(word) for word in sys.argv[3:] if word not in flags]
    program = os.path.abspath(sys.argv[2])
    if sys.argv[1] == "cost":
        cost(program, (numbers or [300])[0], "--headless" in flags, "--phone" in flags)
    else:
        latency(program, (numbers or [50])[0])
