#!/usr/bin/env python3
"""What it costs to review a night of twelve hours and a log of thirty days, and what pynmea2 makes of the first.

    pip install pynmea2==1.19.0
    tests/bench/recordings.py target/release/nightrode [FOLDER]

Writes the logs (1.5 GB) into FOLDER, a temporary one unless told.
"""

import math
import os
import sys
import tempfile
import time
from datetime import datetime, timedelta, timezone

PROGRAM = sys.argv[1]
START = datetime(2026, 6, 3, 20, tzinfo=timezone.utc)


def sentence(body):
    checksum = 0
    for byte in body.encode():
        checksum ^= byte
    return f"${body}*{checksum:02X}"


def minutes(degrees, digits):
    return f"{int(degrees):0{digits}d}{degrees % 1 * 60:07.4f}"


def write(path, hours):
    with open(path, "w", newline="") as log:
        for s in range(hours * 3600):
            now = START + timedelta(seconds=s)
            wind = 200 + 45 * (1 - math.cos(math.tau * s / 86400))
            sheer = 20 * math.sin(math.tau * s / 90)
            lies = math.radians(wind + 180 + sheer)
            north = 25 * math.cos(lies) + 1.5 * math.sin(math.tau * s / 700) + 0.05 * (s * 7 % 5)
            east = 25 * math.sin(lies) + 1.5 * math.cos(math.tau * s / 900) + 0.05 * (s * 3 % 5)
            place = f"{minutes(52 + north / 111250, 2)},N,{minutes(20 - east / 68700, 3)},W"
            clock, heading = now.strftime("%H%M%S.00"), (wind + 1.6 * sheer) % 360
            for body in (
                f"GPRMC,{clock},A,{place},0.3,{heading:.1f},{now.strftime('%d%m%y')},,,A",
                f"GPGGA,{clock},{place},1,11,0.9,3.0,M,50.0,M,,",
                f"HEHDT,{heading:.1f},T",
                f"WIMWV,{(wind - heading) % 360:.1f},R,{12 + sheer / 10:.1f},N,A",
                f"SDDPT,{6 + math.cos(math.tau * s / 44714):.1f},0.5,100.0",
                f"VWVHW,{heading:.1f},T,,M,0.20,N,0.37,K",
            ):
                log.write(sentence(body) + "\r\n")


def reviewed(path):
    began = time.monotonic()
    child = os.posix_spawn(PROGRAM, [PROGRAM, "review", path], os.environ,
                           file_actions=[(os.POSIX_SPAWN_OPEN, 1, "/dev/null", os.O_WRONLY, 0)])
    _, status, used = os.wait4(child, 0)
    assert status == 0
    return time.monotonic() - began, used.ru_maxrss / 1024


folder = sys.argv[2] if len(sys.argv) > 2 else tempfile.mkdtemp()
for name, hours in (("twelve hours", 12), ("thirty days", 720)):
    path = os.path.join(folder, f"{hours}h.nmea")
    if not os.path.exists(path):
        write(path, hours)
    lines = hours * 3600 * 6
    took, peak = min(reviewed(path) for _ in range(3 if hours < 100 else 1))
    print(f"{name}: {lines} lines in {took:.2f} s, {lines / took:,.0f} lines/s, {peak:.1f} MiB")

import pynmea2  # noqa: E402

path = os.path.join(folder, "12h.nmea")
began = time.monotonic()
with open(path) as log:
    read = sum(1 for line in log if pynmea2.parse(line.strip()))
took = time.monotonic() - began
print(f"pynmea2: {read} lines in {took:.2f} s, {read / took:,.0f} lines/s")
