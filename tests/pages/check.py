"""Opens review's page in a browser and reads its exports back with libraries that others wrote."""

import csv
import html
import io
import json
import math
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import gpxpy
import pypdf
import shapely.geometry

PROGRAM, ROOT = Path(sys.argv[1]).resolve(), Path(sys.argv[2]).resolve()
WATCHES = ROOT / "tests/watches"
NIGHTS = ["quiet_night", "shift_of_wind", "boat_outside"]
# A phone held upright, in CSS pixels.
PHONE = 390
PATIENCE = 90

PROBE = """<!DOCTYPE html><meta charset="utf-8"><iframe id="page" style="width:%dpx;height:900px;border:0"
srcdoc="%s"></iframe><pre id="found"></pre><script>
window.onerror = (what) => { document.getElementById("found").textContent = JSON.stringify({error: String(what)}); };
document.getElementById("page").addEventListener("load", () => {
  const page = document.getElementById("page").contentDocument;
  const boxes = [...page.querySelectorAll("svg")].map((svg) => {
    const box = svg.getBoundingClientRect();
    return [svg.querySelector("title")?.textContent, box.width, box.height, svg.querySelectorAll("*").length];
  });
  const root = page.documentElement;
  document.getElementById("found").textContent = JSON.stringify({
    boxes, wide: root.scrollWidth, window: root.clientWidth, heading: page.querySelector("h1").textContent,
    tables: page.querySelectorAll("table").length,
  });
});</script>"""


def review(night, *more):
    log, ride = WATCHES / f"{night}.nmea.gz", WATCHES / f"{night}.toml"
    command = [PROGRAM, "review", log, "--ride", ride, *more]
    return subprocess.run(command, check=True, capture_output=True, text=True, timeout=PATIENCE).stdout


def chromium(*arguments):
    name = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if not name:
        sys.exit("No chromium is installed. Install Debian's package chromium, or say which with CHROMIUM.")
    with tempfile.TemporaryDirectory() as profile:
        fixed = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars",
                 "--enable-logging=stderr", f"--user-data-dir={profile}", "--virtual-time-budget=8000"]
        done = subprocess.run([name, *fixed, *arguments], capture_output=True, text=True, timeout=PATIENCE)
    complaints = [line for line in done.stderr.splitlines() if "CONSOLE" in line]
    assert done.returncode == 0 and not complaints, f"{arguments}: {done.returncode}, {complaints}"
    return done.stdout


def looked_at(page, width):
    """What a browser of that width makes of the page."""
    with tempfile.NamedTemporaryFile("w", suffix=".html", delete=False) as probe:
        probe.write(PROBE % (width, html.escape(page, quote=True)))
    dom = chromium("--window-size=1200,1000", "--dump-dom", f"file://{probe.name}")
    os.unlink(probe.name)
    return json.loads(html.unescape(re.search(r'<pre id="found">(.*?)</pre>', dom, re.S).group(1)))


def check_page(night, out):
    path = out / f"{night}.html"
    review(night, "--html", path, "--what-if", "circle=60", "--force")
    page = path.read_text()
    assert "<script" not in page and "src=" not in page, "the page needs and fetches nothing"
    for width in (PHONE, 1100):
        found = looked_at(page, width)
        assert len(found["boxes"]) >= 4, found
        assert all(w > 100 and h > 100 and parts > 10 for _, w, h, parts in found["boxes"]), found
        assert found["wide"] <= found["window"] <= width, f"nothing sticks out at {width} px: {found}"
        assert found["tables"] >= 2 and found["heading"], found
    pdf = out / f"{night}.pdf"
    chromium(f"--print-to-pdf={pdf}", "--no-pdf-header-footer", f"file://{path}")
    pages = pypdf.PdfReader(pdf).pages
    assert 2 <= len(pages) <= 8, f"{len(pages)} pages"
    assert "Alerts" in "".join(p.extract_text() for p in pages)
    for name, more in (("light", []), ("phone", [f"--window-size={PHONE},844"])):
        size = more or ["--window-size=1000,2400"]
        chromium(*size, f"--screenshot={out / f'{night}-{name}.png'}", f"file://{path}")


def metres(a, b):
    """Between two positions less than a few kilometres apart: the plane errs by less than a centimetre."""
    north = (b[0] - a[0]) * 111_132.95
    east = (b[1] - a[1]) * 111_412.84 * math.cos(math.radians((a[0] + b[0]) / 2))
    return math.hypot(north, east)


def check_exports(night):
    told = json.loads(review(night, "--json"))
    drop = told["ride"]["drop"]
    drop = (drop["lat"], drop["lon"])

    gpx = gpxpy.parse(review(night, "--gpx", "-"))
    points = [p for track in gpx.tracks for segment in track.segments for p in segment.points]
    marks = {mark.name: mark for mark in gpx.waypoints}
    assert metres(drop, (marks["drop point"].latitude, marks["drop point"].longitude)) < 0.02
    assert all(p.time is not None for p in points)
    assert all(a.time <= b.time for a, b in zip(points, points[1:]))

    geo = json.loads(review(night, "--geojson", "-"))
    shapes = {}
    for feature in geo["features"]:
        shapes.setdefault(feature["properties"]["what"], []).append(
            (shapely.geometry.shape(feature["geometry"]), feature["properties"]))
    assert all(shape.is_valid for what in shapes.values() for shape, _ in what)
    circle, properties = shapes["circle"][0]
    assert abs(properties["radius_m"] - told["circle"]["set_m"]) < 0.01
    assert circle.exterior.is_ccw and circle.contains(shapely.geometry.Point(drop[1], drop[0]))
    on_edge = [metres(drop, (lat, lon)) for lon, lat in circle.exterior.coords]
    assert max(abs(r - properties["radius_m"]) for r in on_edge) < 0.05 + 0.004 * properties["radius_m"], on_edge
    vertices = sum(len(line.coords) for line in shapes["track"][0][0].geoms)
    assert abs(vertices - len(points)) <= len(points) // 100 + 2, (vertices, len(points))
    assert len(shapes.get("alert", [])) == len(gpx.waypoints) - ("anchor, as thought" in marks) - 1

    rows = list(csv.DictReader(io.StringIO(review(night, "--csv", "-"))))
    numbers = lambda column: [float(row[column]) for row in rows if row[column]]
    assert abs(max(numbers("distance_m")) - told["holding"]["farthest_m"]["value"]) < 0.6
    assert abs(max(numbers("gust_kn")) - told["wind"]["strongest_gust_kn"]["value"]) < 0.6
    assert abs(max(numbers("load_n")) - told["holding"]["load_n"]["value"]) < 1.0
    assert abs(min(numbers("under_keel_m")) - told["depth"]["least_under_keel_m"]["value"]) < 0.01
    assert rows[0]["at_utc"] <= told["ride"]["last"] and rows[-1]["at_utc"] <= told["ride"]["last"]


out = ROOT / "target/pages"
out.mkdir(parents=True, exist_ok=True)
for night in NIGHTS:
    check_exports(night)
    check_page(night, out)
    print(f"{night}: page and exports as they should be")
