#!/bin/sh
# Regenerates every CSV and JSON here. First make a virtual environment:
#   python3 -m venv VENV && VENV/bin/pip install -r requirements.txt
#   VENV/bin/pip install --no-deps -r requirements-nodeps.txt   (pytides2 declares an old numpy that no longer builds)
# Usage: sh regenerate.sh PYTHON [PARAMS OUT]
set -e
here=$(cd "$(dirname "$0")" && pwd)
py=${1:-python3}
params=${2:-$here/params.json}
out=${3:-$here}
for s in geodesic catenary loads waves tide tide_names sun magvar nmea n2k circstat circlefit errors bearings grib cusum; do
  echo "== $s"
  "$py" "$here/gen_$s.py" --params "$params" --out "$out"
done
