#!/usr/bin/env python3
"""First starts of the program in a terminal: what it proposes, and what boat.toml gets, by what is connected.

    sudo tests/aboard/first_start.py [PROGRAM [--record FOLDER]]      # target/debug/nightrode; Linux, a minute

Each session has a network and a /dev of its own (unshare), so that the usual ports are free and nothing of this computer is
asked. Where that is not permitted it says so and ends with 0. With --record what stands in the terminal is written as
asciicast v2 (docs.asciinema.org/manual/asciicast/v2), with pauses cut.
"""

import base64
import codecs
import hashlib
import json
import os
import pathlib
import pty
import re
import select
import shutil
import socket
import struct
import subprocess
import sys
import tempfile
import threading
import time
import tty
import fcntl
import termios

COLUMNS, ROWS = 80, 24
PATIENCE_S = 60
# A pause in a recording lasts no longer than this, seconds.
LONGEST_PAUSE = 1.0
FIELDS_BEFORE_FEED = 10
BY_ID = "serial/by-id/usb-Invented_GNSS_receiver_17-if00"


# What is connected.

def sentence(body):
    sum_of = 0
    for byte in body.encode():
        sum_of ^= byte
    return f"${body}*{sum_of:02X}\r\n".encode()


def sentences():
    now = time.gmtime()
    hms, date = time.strftime("%H%M%S.00", now), time.strftime("%d%m%y", now)
    rmc = sentence(f"GPRMC,{hms},A,5200.0000,N,02000.0000,W,0.0,,{date},,,A")
    return rmc + sentence("SDDBT,16.4,f,5.0,M,2.7,F")


def raw():
    """Messages of NMEA 2000 as text: position and heading. Layouts as in tests/reference/n2k.jsonl, made by another encoder."""
    clock = time.strftime("%H:%M:%S.000", time.gmtime())
    spaced = lambda data: " ".join(f"{byte:02X}" for byte in data)
    position = struct.pack("<ii", 520000000, -200000000)
    heading = struct.pack("<BHhhB", 1, 23000, 0x7FFF, 0x7FFF, 0xFC)
    return "".join(
        f"{clock} R {identity} {spaced(data)}\r\n" for identity, data in [("09F80115", position), ("09F11215", heading)]
    ).encode()


def send_datagrams(port, make):
    sender = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    while True:
        sender.sendto(make(), ("127.0.0.1", port))
        time.sleep(0.2)


def talk_on_a_line(master):
    while True:
        # Nobody reads yet: what does not fit is lost, as on a real line.
        if select.select([], [master], [], 0)[1]:
            os.write(master, sentences())
        time.sleep(0.2)


def frame(text):
    data = text.encode()
    length = bytes([len(data)]) if len(data) < 126 else b"\x7e" + struct.pack(">H", len(data))
    return b"\x81" + length + data


def serve_signalk(listener):
    while True:
        threading.Thread(target=signalk_peer, args=(listener.accept()[0],), daemon=True).start()


def signalk_peer(peer):
    """A greeting and deltas by the examples of the Signal K specification 1.5.1; the handshake by RFC 6455."""
    asked = b""
    while b"\r\n\r\n" not in asked:
        if not (piece := peer.recv(4096)):
            return
        asked += piece
    key = re.search(rb"(?i)sec-websocket-key: *(\S+)", asked)
    if not key:
        return
    proof = base64.b64encode(hashlib.sha1(key[1] + b"258EAFA5-E914-47DA-95CA-C5AB0DC85B11").digest()).decode()
    peer.sendall(
        f"HTTP/1.1 101 Switching Protocols\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        f"Sec-WebSocket-Accept: {proof}\r\n\r\n".encode()
    )
    her = "vessels.urn:mrn:imo:mmsi:244000009"
    peer.sendall(frame(json.dumps({"name": "invented", "version": "1.5.1", "self": her, "roles": ["main"]})))
    try:
        while True:
            now = time.strftime("%Y-%m-%dT%H:%M:%S.000Z", time.gmtime())
            values = [
                {"path": "navigation.position", "value": {"latitude": 52.0, "longitude": -20.0}},
                {"path": "environment.wind.speedApparent", "value": 6.2},
                {"path": "environment.wind.angleApparent", "value": 0.3},
            ]
            update = {"$source": "mast.1", "timestamp": now, "values": values}
            peer.sendall(frame(json.dumps({"context": her, "updates": [update]})))
            time.sleep(0.5)
    except OSError:
        return


def in_background(work, *args):
    threading.Thread(target=work, args=args, daemon=True).start()


def nothing(_):
    pass


def receiver(devices):
    master, slave = pty.openpty()
    tty.setraw(slave)
    port = devices / "ttyUSB0"
    port.touch()
    run("mount", "--bind", os.ttyname(slave), port)
    link = devices / BY_ID
    link.parent.mkdir(parents=True)
    link.symlink_to(port)
    in_background(talk_on_a_line, master)


def datagrams(_):
    in_background(send_datagrams, 10110, sentences)


def gateway(_):
    in_background(send_datagrams, 2000, raw)


def signalk(_):
    listener = socket.create_server(("127.0.0.1", 3000))
    in_background(serve_signalk, listener)


SERVER_AT = "10.99.1.2"


def other_machine(_):
    """A Signal K server on another machine of the boat's network: a network namespace at the other end of a cable."""
    server = subprocess.Popen(
        ["unshare", "--net", sys.executable, __file__, "--server"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    server.stdout.readline()
    run("ip", "link", "add", "boat", "type", "veth", "peer", "name", "mast", "netns", server.pid)
    run("ip", "address", "add", "10.99.1.1/24", "dev", "boat")
    run("ip", "link", "set", "dev", "boat", "up")
    print("plugged in", file=server.stdin, flush=True)
    if server.stdout.readline() != "known\n":
        sys.exit("the other machine does not make itself known")
    in_background(server.wait)


def be_other_machine():
    """It makes itself known by mDNS (RFC 6762) as the Signal K specification 1.5.1 asks, by another implementation of it."""
    from zeroconf import IPVersion, ServiceInfo, Zeroconf

    print("here", flush=True)
    sys.stdin.readline()
    run("ip", "link", "set", "lo", "up")
    run("ip", "address", "add", f"{SERVER_AT}/24", "dev", "mast")
    run("ip", "link", "set", "dev", "mast", "up")
    listener = socket.create_server((SERVER_AT, 3000))
    known = Zeroconf(interfaces=[SERVER_AT], ip_version=IPVersion.V4Only)
    for kind, port in [("_signalk-ws._tcp.local.", 3000), ("_signalk-tcp._tcp.local.", 8375)]:
        known.register_service(
            ServiceInfo(
                kind, f"invented.{kind}", port, properties={"txtvers": "1", "roles": "master, main", "self": "urn:mrn:imo:mmsi:244000009"},
                server="mast.local.", addresses=[socket.inet_aton(SERVER_AT)],
            )
        )
    print("known", flush=True)
    in_background(serve_signalk, listener)
    # Until the session that asked for it is over.
    sys.stdin.read()


# A name, what is connected, words of the form, and the source that boat.toml gets.
SESSIONS = [
    ("nothing", nothing, ["serial:PATH@BAUD"], "udp:10110"),
    ("receiver", receiver, ["position", "depth"], f"serial:/dev/{BY_ID}@4800"),
    ("udp", datagrams, ["position", "depth"], "udp:0.0.0.0:10110"),
    ("signalk", signalk, ["Signal K", "position"], "signalk:localhost:3000"),
    ("mdns", other_machine, ["Signal K", "position"], f"signalk:{SERVER_AT}:3000"),
    ("gateway", gateway, ["NMEA 2000", "position"], "udp:0.0.0.0:2000"),
]


# The terminal.

class Screen:
    """As much of a terminal as the program writes: places, clearing, letters of one column."""

    PART = re.compile(r"\x1b\[([?>=]?)([0-9;:]*)([@-~])|\x1b\].*?(?:\x07|\x1b\\)|\x1b[()].|\x1b.|[^\x1b]", re.S)

    def __init__(self):
        self.cells = [[" "] * COLUMNS for _ in range(ROWS)]
        self.row = self.column = 0

    def show(self, text):
        for part in self.PART.finditer(text):
            mark, numbers, final = part.groups()
            if final and not mark:
                self.control(numbers, final)
            elif (mark, numbers) == ("?", "1049"):
                # To a screen of its own, or back from it: empty.
                self.control("2", "J")
            elif not part[0].startswith("\x1b"):
                self.letter(part[0])

    def control(self, numbers, final):
        first, _, second = numbers.partition(";")
        if final == "H":
            self.row, self.column = int(first or 1) - 1, int(second or 1) - 1
        elif final == "J":
            self.cells = [[" "] * COLUMNS for _ in range(ROWS)]

    def letter(self, letter):
        if letter == "\r":
            self.column = 0
        elif letter == "\n":
            self.row = min(self.row + 1, ROWS - 1)
        elif letter >= " " and self.row < ROWS and self.column < COLUMNS:
            self.cells[self.row][self.column] = letter
            self.column += 1

    def text(self):
        return "\n".join("".join(row).rstrip() for row in self.cells)


class Session:
    """The program in a terminal, and what it wrote."""

    def __init__(self, program, home, *words, config=None, silent=True):
        self.screen, self.written, self.begun = Screen(), [], time.monotonic()
        self.letters = codecs.getincrementaldecoder("utf-8")("replace")
        environment = {"HOME": str(home), "TERM": "xterm-256color", "PATH": "/usr/bin:/bin", "XDG_RUNTIME_DIR": str(home)}
        words = words or ("watch", "--rides", str(home / "rides"))
        args = [program, "--config", str(config or home / "boat"), *words, "--utc", "--colours", "mono"]
        args += ["--silent"] * silent
        self.child, self.master = pty.fork()
        if self.child == 0:
            os.execve(program, args, environment)
        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))

    def read(self, wait):
        if not select.select([self.master], [], [], wait)[0]:
            return True
        try:
            data = os.read(self.master, 65536)
        except OSError:
            return False
        text = self.letters.decode(data)
        self.written.append((time.monotonic() - self.begun, text))
        self.screen.show(text)
        return bool(data)

    def until(self, words):
        end = time.monotonic() + PATIENCE_S
        while words not in self.screen.text():
            if time.monotonic() > end or not self.read(0.5):
                sys.exit(f"never shown: {words}\n{self.screen.text()}")
        # An alert that flashes is drawn again and again.
        end = time.monotonic() + LONGEST_PAUSE
        while time.monotonic() < end and self.read_more():
            pass

    def until_so(self, what, so):
        """While it draws."""
        end = time.monotonic() + PATIENCE_S
        while not so():
            if time.monotonic() > end or not self.read(0.2):
                sys.exit(f"not so: {what}\n{self.screen.text()}")

    def read_more(self):
        """The rest of what is being drawn."""
        return select.select([self.master], [], [], 0.3)[0] and self.read(0)

    def keys(self, keys):
        os.write(self.master, keys.encode())

    def end(self):
        while self.read(0.5):
            pass
        return os.waitstatus_to_exitcode(os.waitpid(self.child, 0)[1])

    def cast(self, title):
        """The recording. Nothing of the watch that follows: it is drawn again and again."""
        header = {"version": 2, "width": COLUMNS, "height": ROWS, "title": title, "env": {"TERM": "xterm-256color"}}
        lines, at, before = [json.dumps(header)], 0.0, 0.0
        for when, text in self.written:
            at, before = at + min(when - before, LONGEST_PAUSE), when
            lines.append(json.dumps([round(at, 2), "o", text], ensure_ascii=False))
        return "\n".join(lines) + "\n"


def hold(name, connect, words, source, program, record):
    with tempfile.TemporaryDirectory() as folder:
        home = pathlib.Path(folder)
        connect(pathlib.Path("/dev"))
        session = Session(program, home)
        session.until("BEFORE THE FIRST WATCH")
        session.keys("\r")
        session.until("THE BOAT")
        session.keys("Marram")
        session.until("Marram")
        # Down to the feed, which says there what it gives.
        session.keys("\t" * (FIELDS_BEFORE_FEED + (name == "nothing")))
        session.until(words[0])
        form = " ".join(session.screen.text().split())
        missing = [part for part in [*words, source[:40]] if part not in form]
        if missing:
            sys.exit(f"{name}: the form lacks {missing}\n{session.screen.text()}")
        session.keys("\r")
        session.until("north up")
        read = (home / "boat/boat.toml").read_text()
        if f'source = "{source}"' not in read or read.count("[[feed]]") != 1:
            sys.exit(f"{name}: boat.toml has not just {source}\n{read}")
        recorded = session.cast(f"nightrode watch: first start, {name}")
        session.keys("qy")
        if code := session.end():
            sys.exit(f"{name}: ended with {code}\n{session.screen.text()}")
        if record:
            (record / f"{name}.cast").write_text(recorded)
        print(f"{name}: {source} proposed, and written")


# A computer of its own for each session.

def run(*words):
    subprocess.run([str(word) for word in words], check=True)


def own_computer():
    """Its own loopback, and a /dev and /sys/class/tty with what is connected only. In namespaces that unshare made."""
    run("ip", "link", "set", "lo", "up")
    work = pathlib.Path("/mnt")
    run("mount", "-t", "tmpfs", "tmpfs", work)
    devices, classes = work / "dev", work / "tty"
    (devices / "pts").mkdir(parents=True)
    for name in ["null", "zero", "random", "urandom", "tty", "full"]:
        (devices / name).touch()
        run("mount", "--bind", f"/dev/{name}", devices / name)
    run("mount", "--bind", "/dev/pts", devices / "pts")
    (devices / "ptmx").symlink_to("/dev/pts/ptmx")
    adapter = work / "usb1/1-1"
    port = adapter / "1-1:1.0/ttyUSB0"
    port.mkdir(parents=True)
    for name, content in [("idVendor", "1234"), ("idProduct", "5678"), ("serial", "17"), ("manufacturer", "Invented"),
                          ("product", "GNSS receiver"), ("1-1:1.0/bInterfaceNumber", "00")]:
        (adapter / name).write_text(content + "\n")
    (work / "bus/usb-serial").mkdir(parents=True)
    (port / "subsystem").symlink_to(work / "bus/usb-serial")
    (classes / "ttyUSB0").mkdir(parents=True)
    (classes / "ttyUSB0/device").symlink_to(port)
    run("mount", "--bind", classes, "/sys/class/tty")
    run("mount", "--rbind", devices, "/dev")


def main():
    args = sys.argv[1:]
    if args == ["--server"]:
        return be_other_machine()
    if args[:1] == ["--one"]:
        _, name, program, record = args
        own_computer()
        session = next(session for session in SESSIONS if session[0] == name)
        return hold(*session, program, pathlib.Path(record) if record else None)
    root = pathlib.Path(__file__).resolve().parents[2]
    program = str(pathlib.Path(args[0] if args else root / "target/debug/nightrode").resolve())
    record = str(pathlib.Path(args[2]).resolve()) if args[1:2] == ["--record"] else ""
    apart = ["unshare", "--mount", "--net"]
    if shutil.which("unshare") is None or subprocess.run([*apart, "true"], stderr=subprocess.DEVNULL).returncode:
        print("first starts: not held, for that root and namespaces of Linux are needed")
        return
    one = lambda name: [*apart, sys.executable, __file__, "--one", name, program, record]
    held = [subprocess.Popen(one(name)) for name, *_ in SESSIONS]
    sys.exit(max(session.wait() for session in held))


if __name__ == "__main__":
    main()
