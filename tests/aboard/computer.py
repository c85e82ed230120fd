#!/usr/bin/env python3
"""A made-up computer: its battery, heat, disk, lid, sleep and clock, and what `nightrode health` and a watch say of them.

Called by tests/aboard/check, as root in namespaces of its own: files below /sys are laid over by made-up ones, and the system's
bus is a private one on which this script answers for logind and timedated.

Names and units of the files: Linux, Documentation/ABI/testing/sysfs-class-power and driver-api/thermal/sysfs-api.rst. Methods and
properties: org.freedesktop.login1(5), org.freedesktop.timedate1(5).
"""

import json
import pathlib
import select
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time

from jeepney import DBusAddress, HeaderFields, MessageType, new_error, new_method_call, new_method_return
from jeepney.io.blocking import open_dbus_connection

from first_start import sentences

PATIENCE_S = 60
ALL_WAYS = ["sleep", "idle", "handle-lid-switch"]
BOAT = """[boat]
name = "Marram"
loa_m = 10.4
draft_m = 1.75
antenna_aft_of_bow_m = 9.2
[rode]
chain_mm = 8
chain_m = 60
"""
BATTERY = {
    "type": "Battery", "scope": "System", "present": "1", "technology": "Li-ion", "voltage_now": "11400000",
    "voltage_min_design": "11400000", "energy_full_design": "50000000", "energy_full": "50000000",
}
# 9 Wh at 3 W: three hours.
LOW = BATTERY | {"status": "Discharging", "capacity": "18", "energy_now": "9000000", "power_now": "3000000"}
CHARGED = BATTERY | {"status": "Charging", "capacity": "64", "energy_now": "32000000", "power_now": "10000000"}
HOT = {
    "thermal_zone0/temp": "88500", "thermal_zone0/trip_point_0_type": "passive", "thermal_zone0/trip_point_0_temp": "85000",
    "cooling_device0/type": "Processor", "cooling_device0/cur_state": "3",
}


def run(*words):
    subprocess.run([str(word) for word in words], check=True)


def expect(what, so, seen):
    if not so:
        sys.exit(f"not so: {what}\n{json.dumps(seen, indent=1) if not isinstance(seen, str) else seen}")


# Its files.

class Files:
    """A folder that is laid over one below /sys."""

    def __init__(self, work, over):
        self.folder = work / over.strip("/").replace("/", "_")
        self.folder.mkdir()
        run("mount", "--bind", self.folder, over)

    def hold(self, files):
        run("find", self.folder, "-mindepth", "1", "-delete")
        for name, content in files.items():
            path = self.folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(content + "\n")


# Its bus.

class Bus:
    """A private bus on which logind and timedated are this script's."""

    def __init__(self):
        command = ["dbus-daemon", "--session", "--nofork", "--print-address"]
        self.daemon = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        self.address = self.daemon.stdout.readline().strip()
        self.refuses, self.lid, self.is_set = [], "suspend", True
        self.given, self.sent = [], []
        self.connection = open_dbus_connection(self.address, enable_fds=True)
        bus = DBusAddress("/org/freedesktop/DBus", "org.freedesktop.DBus", "org.freedesktop.DBus")
        for name in ["org.freedesktop.login1", "org.freedesktop.timedate1"]:
            self.connection.send_and_get_reply(new_method_call(bus, "RequestName", "su", (name, 4)))
        threading.Thread(target=self.serve, daemon=True).start()

    def serve(self):
        while True:
            try:
                message = self.connection.receive()
            except ConnectionResetError:
                # The bus has ended.
                return
            if message.header.message_type == MessageType.method_call:
                self.connection.send(self.answer(message))
                # What was sent is the program's alone.
                while self.sent:
                    self.sent.pop().close()

    def answer(self, message):
        member = message.header.fields[HeaderFields.member]
        if member == "Inhibit":
            return self.inhibit(message)
        if member == "CanSuspend":
            return new_method_return(message, "s", ("yes",))
        if member in ("Get", "GetAll"):
            clock = message.body[0].endswith("timedate1")
            lid = {"HandleLidSwitch": ("s", self.lid), "IdleAction": ("s", "ignore")}
            values = {"NTPSynchronized": ("b", self.is_set)} if clock else lid
            one = member == "Get"
            return new_method_return(message, "v" if one else "a{sv}", (values[message.body[1]] if one else values,))
        return new_error(message, "org.freedesktop.DBus.Error.UnknownMethod", "s", (member,))

    def inhibit(self, message):
        what, _, _, mode = message.body
        if what in self.refuses or mode != "block":
            return new_error(message, "org.freedesktop.DBus.Error.AccessDenied", "s", ("Permission denied",))
        ours, theirs = socket.socketpair()
        self.given.append((what, ours))
        self.sent.append(theirs)
        return new_method_return(message, "h", (theirs,))

    def held(self):
        """What was given and whose other end is still open."""
        closed = select.select([ours for _, ours in self.given], [], [], 0)[0] if self.given else []
        return [what for what, ours in self.given if ours not in closed]

    def given_back(self):
        """What was given and whose other end is closed."""
        back = []
        for what, ours in self.given:
            ours.settimeout(PATIENCE_S)
            if ours.recv(1) == b"":
                back.append(what)
        return back


# What the program says.

class Program:
    def __init__(self, program, work, bus):
        self.program, self.rides = program, work / "rides"
        self.home = work / "home"
        self.home.mkdir()
        self.environment = {
            "HOME": str(self.home), "XDG_RUNTIME_DIR": str(self.home), "PATH": "/usr/bin:/bin",
            "DBUS_SYSTEM_BUS_ADDRESS": bus.address,
        }

    def health(self):
        command = [self.program, "health", "--json", "--rides", self.rides]
        done = subprocess.run(command, env=self.environment, capture_output=True, text=True, check=True)
        read = json.loads(done.stdout)
        return read["measured"], {fact["about"]: fact for fact in read["facts"]}

    def watch(self):
        """A watch without a screen."""
        boat = self.home / "boat"
        boat.mkdir(exist_ok=True)
        (boat / "boat.toml").write_text(BOAT)
        command = [self.program, "--config", boat, "watch", "--headless", "--silent", "--anew", "--rides", self.rides, "udp:4445"]
        return subprocess.Popen(command, env=self.environment, stdout=subprocess.PIPE, text=True)

    def act(self, *words):
        """Something done through the door of the watch; what it said."""
        command = [self.program, "act", *words]
        done = subprocess.run(command, env=self.environment, capture_output=True, text=True)
        expect(f"act {' '.join(words)} is done", done.returncode == 0, done.stdout + done.stderr)
        return done.stdout

    def stands(self):
        """How the watch stands; nothing while it has no door yet."""
        command = [self.program, "act", "status", "--json"]
        done = subprocess.run(command, env=self.environment, capture_output=True, text=True)
        return json.loads(done.stdout) if done.returncode == 0 else {}


class Ride:
    """A watch on a made-up feed, and the anchor down."""

    def __init__(self, program, bus):
        bus.given.clear()
        self.program, self.bus = program, bus
        self.process = program.watch()
        self.is_heard = True
        threading.Thread(target=self.feed, daemon=True).start()
        threading.Thread(target=self.process.stdout.read, daemon=True).start()
        until("the watch has a position", lambda: program.stands().get("verdict") == "not_set", program.stands)

    def feed(self):
        sender = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        while self.is_heard:
            sender.sendto(sentences(), ("127.0.0.1", 4445))
            time.sleep(0.5)

    def let_go(self):
        expect("nothing is asked for before the anchor is down", not self.bus.given, str(self.bus.given))
        self.program.act("mark")

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.end(signal.SIGKILL)

    def end(self, by=signal.SIGTERM):
        self.is_heard = False
        self.process.send_signal(by)
        self.process.wait()


def until(what, so, seen):
    end = time.monotonic() + PATIENCE_S
    while not so():
        expect(what, time.monotonic() < end, seen())
        time.sleep(0.1)


def battery(program, supplies):
    supplies.hold({})
    measured, facts = program.health()
    expect("no battery is no trouble", measured["power"] is None and not facts["power"]["trouble"], facts)
    supplies.hold({f"BAT0/{name}": value for name, value in LOW.items()})
    measured, facts = program.health()
    power = measured["power"]
    expect("18 % and being drained", (power["percent"], power["is_drained"]) == (18, True), measured)
    expect("three hours are left", "18 %, about 3 h 00 min left" in facts["power"]["words"], facts)
    supplies.hold({f"BAT0/{name}": value for name, value in CHARGED.items()})
    measured, facts = program.health()
    expect("charging is on mains", facts["power"]["words"] == "on mains, battery 64 %", facts)
    expect("which is no trouble", not facts["power"]["trouble"], facts)


def heat(program, thermal):
    thermal.hold({})
    expect("no heat is measured", program.health()[0]["heat"] is None, "")
    thermal.hold(HOT)
    measured, facts = program.health()
    expect("88 °C of 85, slowed", measured["heat"] == {"celsius": 88, "limit": 85, "is_slowed": True}, measured)
    expect("which is trouble", facts["heat"]["trouble"], facts)


def disk(program):
    measured, facts = program.health()
    expect("the disk has room", not facts["disk"]["trouble"], facts)
    program.rides.mkdir(exist_ok=True)
    run("mount", "-t", "tmpfs", "-o", "size=32m", "tmpfs", program.rides)
    measured, facts = program.health()
    expect("32 MB are too little", facts["disk"]["trouble"] and 25 <= measured["space"]["free_mb"] <= 34, facts)


def clock(program, bus):
    for is_set, words in [(True, "set by the network"), (False, "not set by the network")]:
        bus.is_set = is_set
        measured, facts = program.health()
        expect(words, measured["clock_set"] == is_set and facts["clock"]["words"].startswith(words), facts)


def sleep(program, bus):
    """The kernel knows a sleep, by the /sys/power/state that `main` lays over."""
    bus.given.clear()
    _, facts = program.health()
    expect("it is kept awake", not facts["sleep"]["trouble"], facts)
    expect("all three are asked for, and given back", bus.given_back() == ALL_WAYS, facts)
    bus.refuses = ["handle-lid-switch", "idle"]
    _, facts = program.health()
    said = "a closed lid not held off (Permission denied); set HandleLidSwitch=ignore"
    expect("a refused lid is told with what to set", facts["sleep"]["trouble"] and said in facts["sleep"]["words"], facts)
    bus.lid = "ignore"
    expect("a lid that does nothing is not missed", not program.health()[1]["sleep"]["trouble"], facts)


def kept_awake(program, bus):
    """A watch and an anchor down: what is asked of logind when the anchor goes down is held until it is aweigh, or the watch ends."""
    bus.refuses, bus.lid = [], "suspend"
    seen = lambda: f"given {bus.given}, held {bus.held()}, {program.stands()}"
    with Ride(program, bus) as ride:
        ride.let_go()
        until("all three are held when the anchor goes down", lambda: bus.held() == ALL_WAYS, seen)
        program.act("veer", "30")
        program.act("up")
        program.act("note", "all quiet")
        until("she is brought up", lambda: program.stands()["stage"] != "setting", seen)
        expect("they are held through the ride, and asked for once", (bus.held(), len(bus.given)) == (ALL_WAYS, 3), seen())
        program.act("aweigh")
        until("aweigh gives them back", lambda: bus.held() == [], seen)
        program.act("mark")
        until("another anchor is held for again", lambda: bus.held() == ALL_WAYS, seen)
        ride.end(signal.SIGKILL)
        expect("a killed watch gives them back", bus.given_back() == ALL_WAYS * 2, str(bus.given))


def refused_awake(program, bus):
    """What logind refuses stands as a caution, in words that say what to set."""
    bus.refuses, bus.lid = ["handle-lid-switch"], "suspend"
    seen = lambda: f"given {bus.given}, held {bus.held()}, {program.stands()}"
    with Ride(program, bus) as ride:
        ride.let_go()
        caution = lambda: [alert for alert in program.stands()["alerts"] if alert["kind"] == "may_sleep"]
        until("a refused lid is a caution", caution, seen)
        said = (
            "COMPUTER MAY SLEEP: The computer may fall asleep, and the watch with it: a closed lid not held off "
            "(Permission denied); set HandleLidSwitch=ignore."
        )
        expect("in these words", said in program.act("status").splitlines(), program.act("status"))
        expect("what is not refused is held", bus.held() == ["sleep", "idle"], seen())
        program.act("aweigh")
        until("aweigh gives them back", lambda: bus.held() == [], seen)
        until("and ends the caution", lambda: not caution(), seen)
        ride.end()


def watch(program, supplies, bus):
    """What a watch says of itself at once: a battery that is low, a disk that is short."""
    supplies.hold({f"BAT0/{name}": value for name, value in LOW.items()})
    kept = program.watch()
    wanted, said = {"warning power_low raised", "caution disk_low raised"}, ""
    guard = threading.Timer(PATIENCE_S, kept.kill)
    guard.start()
    for line in kept.stdout:
        said += line
        wanted = {words for words in wanted if words not in said}
        if not wanted:
            break
    guard.cancel()
    kept.terminate()
    kept.wait()
    expect("a low battery and a short disk are told", not wanted, said)


def main():
    program = sys.argv[1]
    with tempfile.TemporaryDirectory() as folder:
        work = pathlib.Path(folder)
        run("ip", "link", "set", "lo", "up")
        run("mount", "-t", "tmpfs", "tmpfs", work)
        supplies, thermal = Files(work, "/sys/class/power_supply"), Files(work, "/sys/class/thermal")
        power = Files(work, "/sys/power")
        power.hold({"state": "freeze mem"})
        bus = Bus()
        try:
            program = Program(program, work, bus)
            battery(program, supplies)
            heat(program, thermal)
            clock(program, bus)
            sleep(program, bus)
            kept_awake(program, bus)
            refused_awake(program, bus)
            disk(program)
            watch(program, supplies, bus)
        finally:
            bus.daemon.terminate()
            bus.daemon.wait()
            run("umount", "-l", work)
    print("battery, heat, clock, lid and sleep, a watch kept awake, disk: as they must be")


if __name__ == "__main__":
    main()
