#!/usr/bin/env python3
"""Loudspeakers by name on a computer without a sound card: what is heard on which, and what is said of one that is gone.

Called by tests/aboard/check. ALSA's own plugins, in an asoundrc of this script's, make devices that need no card (alsa-lib's
documentation, "PCM (digital audio) plugins": file, null): one writes what is played to a program, which takes it no faster than
a card would and keeps it; one leads nowhere and takes it at once. The alarm's pitch and its three signals are looked for in
what was kept, by Goertzel's filter.
"""

import math
import pathlib
import struct
import subprocess
import sys
import tempfile
import time

from computer import BOAT, PATIENCE_S, expect, run, until
from first_start import Session

# The alarm's pitch: src/edge/sound/pattern.rs, and there where it comes from.
ALARM_HZ = 520

DEVICES = """
pcm.cockpit {{
    type file
    slave.pcm.type null
    file "|{python} {script} --card {heard}"
    format wav
    hint {{ show on description "Cockpit, made up" }}
}}
pcm.well {{
    type null
    hint {{ show on description "A lead that ends in the bilge, made up" }}
}}
pcm.!default {default}
"""


# The card.

def be_card(heard):
    """Takes a WAV stream at the speed of its header, and keeps it in a file that begins with when it was opened."""
    stream = sys.stdin.buffer.raw
    head = b""
    while len(head) < 44:
        if not (piece := stream.read(44 - len(head))):
            return
        head += piece
    speed = struct.unpack_from("<I", head, 28)[0]
    begun, taken = time.monotonic(), 0
    with open(heard / f"{time.monotonic_ns()}.wav", "wb", buffering=0) as kept:
        kept.write(head)
        while piece := stream.read(max(speed // 100, 64)):
            kept.write(piece)
            taken += len(piece)
            time.sleep(max(begun + taken / speed - time.monotonic(), 0))


def channel(path):
    """The first channel of a kept stream, as numbers, and its rate."""
    data = path.read_bytes()
    if len(data) < 44:
        return [], 1000
    tag, channels, rate, _, step, bits = struct.unpack_from("<HHIIHH", data, 20)
    body = data[44 : 44 + (len(data) - 44) // step * step]
    letter = {(1, 16): "h", (1, 32): "i", (3, 32): "f"}.get((1 if tag == 0xFFFE else tag, bits))
    expect(f"a stream of a usual kind, not {tag} with {bits} bits", letter is not None, str(path))
    scale = 1 if letter == "f" else 2 ** (bits - 1)
    return [one[0] / scale for one in struct.iter_unpack(f"<{channels}{letter}", body)], rate


def strength(samples, hz, rate):
    """How strong a pitch is, 1 for a sine of full scale."""
    turn, before, last = 2 * math.cos(2 * math.pi * hz / rate), 0.0, 0.0
    for sample in samples:
        before, last = last, sample + turn * last - before
    return 2 * math.sqrt(max(last * last + before * before - turn * last * before, 0)) / max(len(samples), 1)


def signals(path, hz):
    """How many signals of that pitch a kept stream has."""
    samples, rate = channel(path)
    step, sounds, count = rate // 20, False, 0
    for start in range(0, len(samples) - step, step):
        piece = samples[start : start + step]
        now = strength(piece, hz, rate) > 0.2 and strength(piece, hz * 1.5, rate) < 0.1
        count += now and not sounds
        sounds = now
    return count


# The computer.

class Cabin:
    """A home with made-up loudspeakers, and two folders of settings: the watch's, and that of a screen that joins it."""

    def __init__(self, program, home):
        self.program, self.home, self.heard = program, home, home / "heard"
        self.heard.mkdir()
        self.environment = {"HOME": str(home), "XDG_RUNTIME_DIR": str(home), "PATH": "/usr/bin:/bin"}
        self.has(default="well")

    def has(self, default):
        """The loudspeakers, and which of them is the computer's default one."""
        script = pathlib.Path(__file__).resolve()
        devices = DEVICES.format(python=sys.executable, script=script, heard=self.heard, default=default)
        (self.home / ".asoundrc").write_text(devices)
        self.forgets()

    def chooses(self, device, folder="boat"):
        (self.home / folder).mkdir(exist_ok=True)
        chosen = f'[sound]\ndevice = "{device}"\n' if device else ""
        (self.home / folder / "boat.toml").write_text(BOAT + chosen)
        self.forgets()

    def forgets(self):
        """What was heard so far."""
        for path in self.heard.iterdir():
            path.unlink()

    def signals(self, hz=ALARM_HZ):
        """How many signals of that pitch were heard."""
        return sum(signals(path, hz) for path in self.heard.glob("*.wav"))

    def runs(self, *words):
        command = [self.program, "--config", self.home / "boat", *words]
        done = subprocess.run(command, env=self.environment, capture_output=True, text=True, timeout=PATIENCE_S)
        return done.returncode, done.stdout + done.stderr

    def watches(self):
        """A watch without a screen, of which nothing is heard by a feed."""
        command = [self.program, "--config", self.home / "boat", "watch", "--headless", "--anew"]
        command += ["--rides", self.home / "rides", "udp:4446"]
        return subprocess.Popen(command, env=self.environment, stdout=subprocess.DEVNULL)

    def says(self, *parts):
        """Until a line of `act status` has these words."""
        said = lambda: self.runs("act", "status")[1]
        so = lambda: any(all(part in line for part in parts) for line in said().splitlines())
        until(f"the watch says {' … '.join(parts)}", so, said)

    def on_screen(self, folder, *words):
        """The program in a terminal, with its sound on."""
        home = self.home / folder
        home.mkdir(exist_ok=True)
        return Session(self.program, self.home, *words, config=home, silent=False)


def listed(cabin):
    code, said = cabin.runs("sound", "--list")
    for name in ["alsa:cockpit", "Cockpit, made up", "alsa:well"]:
        expect(f"{name} is listed", code == 0 and name in said, said)


def played(cabin):
    cabin.chooses("alsa:cockpit")
    code, said = cabin.runs("sound")
    expect("every sound plays on the chosen loudspeaker", code == 0, said)
    # Three in the alarm, and one in each of the three falls of the failure; two in the warning.
    counts = cabin.signals(), cabin.signals(1040)
    expect("alarm, failure and warning are heard on it", counts == (6, 2), f"{counts}\n{said}")


def rehearsed(cabin):
    """On a watch, with `R`: in the bunk it is the chosen loudspeaker that counts."""
    cabin.forgets()
    screen = cabin.on_screen("boat", "watch", "--anew", "--rides", str(cabin.home / "rides"), "udp:4446")
    screen.until("north up")
    screen.keys("R\r")
    screen.until_so("the alarm is heard in the bunk", lambda: cabin.signals() >= 3)
    # Heard, back, quit, yes.
    screen.keys("yqqy")
    screen.end()


def leads_nowhere(cabin):
    cabin.chooses("alsa:well")
    code, said = cabin.runs("sound")
    nowhere = "takes the sound without playing it"
    expect("a lead that ends nowhere is told", code != 0 and nowhere in said and "as `device` in boat.toml" in said, said)
    watch = cabin.watches()
    try:
        cabin.says("SOUND FAULT", nowhere)
    finally:
        watch.kill()
        watch.wait()


def gone(cabin):
    """The chosen loudspeaker is not there: the default one plays, and it is said."""
    cabin.has(default="cockpit")
    cabin.chooses("alsa:mast")
    code, said = cabin.runs("sound")
    expect("what plays instead is said", 'The loudspeaker "alsa:mast"' in said and "default" in said, said)
    expect("it is heard on the default one", cabin.signals() == 6, said)
    watch = cabin.watches()
    try:
        cabin.says("SOUND FAULT", 'The loudspeaker "alsa:mast" is gone: the default one plays instead')
    finally:
        watch.kill()
        watch.wait()


def joined(cabin):
    """A joined screen says on the loudspeaker of its own boat.toml that the watch has fallen silent."""
    cabin.has(default="well")
    cabin.chooses("")
    cabin.chooses("alsa:cockpit", "bunk")
    watch = cabin.watches()
    try:
        cabin.says("NO ANCHOR DOWN")
        screen = cabin.on_screen("bunk", "join")
        screen.until("JOINED")
        cabin.forgets()
    finally:
        watch.kill()
        watch.wait()
    screen.until_so("the bunk hears that the watch is silent", lambda: cabin.signals() >= 3)
    screen.keys("q")
    screen.end()


def main():
    if sys.argv[1:2] == ["--card"]:
        return be_card(pathlib.Path(sys.argv[2]))
    run("ip", "link", "set", "lo", "up")
    with tempfile.TemporaryDirectory() as folder:
        cabin = Cabin(sys.argv[1], pathlib.Path(folder))
        for proof in [listed, played, rehearsed, leads_nowhere, gone, joined]:
            proof(cabin)
    print("loudspeakers by name, listened to: as they must be")


if __name__ == "__main__":
    main()
