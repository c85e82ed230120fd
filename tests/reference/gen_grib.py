"""Subject 11. Wind of GRIB2 files.

wind_simple.grib2, wind_complex.grib2   An invented wind on a grid of a quarter of a degree about 54 N 10 E: u and v at 10 m
                   and the gust at ground, at 0, 3, 6 and 12 hours from 2 June 2026 18:00 UTC, written by ecCodes (template
                   files of ECMWF, packing grid_simple and grid_complex_spatial_differencing). The second file runs from
                   south to north.
wind_grib.csv      What ecCodes reads back of them, interpolated bilinearly between the four grid points in double precision:
                   mean wind and gust in knots (1852 m an hour), direction the wind comes from in degrees true.
"""
import math

import eccodes as ec
import numpy as np

import common

LAT, LON, STEP, NI, NJ = 55.0, 9.0, 0.25, 13, 9
HOURS = [0, 3, 6, 12]
FIELDS = {"u": (2, 2, 103, 10), "v": (2, 3, 103, 10), "gust": (2, 22, 1, 0)}
FILES = {"wind_simple.grib2": ("grid_simple", False), "wind_complex.grib2": ("grid_complex_spatial_differencing", True)}
PLACES = [(54.2034, 10.4127), (54.0, 10.0), (53.01, 9.02), (54.99, 11.98), (54.625, 10.875), (53.6, 9.77)]
KNOT = 1852.0 / 3600.0


def invented(name, hour, lat, lon):
    turn = math.radians(225 + 8 * hour + 6 * (lon - 10) + 3 * (lat - 54))
    speed = 7 + 0.9 * hour - 0.02 * hour * hour + 0.8 * math.sin(lat * 3) + 0.5 * math.cos(lon * 2)
    return {"u": -speed * math.sin(turn), "v": -speed * math.cos(turn), "gust": speed * 1.35}[name]


def write(path, packing, northward):
    lats = [LAT - STEP * j for j in range(NJ)]
    if northward:
        lats.reverse()
    lons = [LON + STEP * i for i in range(NI)]
    with open(path, "wb") as out:
        for hour in HOURS:
            for name, (category, number, surface, height) in FIELDS.items():
                g = ec.codes_grib_new_from_samples("regular_ll_sfc_grib2")
                for key, value in [
                    ("dataDate", 20260602), ("dataTime", 1800), ("discipline", 0), ("productDefinitionTemplateNumber", 0),
                    ("parameterCategory", category), ("parameterNumber", number), ("typeOfFirstFixedSurface", surface),
                    ("scaleFactorOfFirstFixedSurface", 0), ("scaledValueOfFirstFixedSurface", height),
                    ("indicatorOfUnitOfTimeRange", 1), ("forecastTime", hour), ("Ni", NI), ("Nj", NJ),
                    ("latitudeOfFirstGridPointInDegrees", lats[0]), ("latitudeOfLastGridPointInDegrees", lats[-1]),
                    ("longitudeOfFirstGridPointInDegrees", lons[0]), ("longitudeOfLastGridPointInDegrees", lons[-1]),
                    ("iDirectionIncrementInDegrees", STEP), ("jDirectionIncrementInDegrees", STEP),
                    ("jScansPositively", int(northward)), ("bitsPerValue", 16),
                ]:
                    ec.codes_set(g, key, value)
                ec.codes_set_values(g, np.array([invented(name, hour, lat, lon) for lat in lats for lon in lons]))
                ec.codes_set(g, "packingType", packing)
                ec.codes_write(g, out)
                ec.codes_release(g)


def read(path):
    """Fields of a file as ecCodes reads them: {(name, valid time): (latitudes, longitudes, values)}."""
    found = {}
    names = {(c, n): name for name, (c, n, _, _) in FIELDS.items()}
    with open(path, "rb") as file:
        while (g := ec.codes_grib_new_from_file(file)) is not None:
            name = names[ec.codes_get(g, "parameterCategory"), ec.codes_get(g, "parameterNumber")]
            date, time = ec.codes_get(g, "validityDate"), ec.codes_get(g, "validityTime")
            at = f"{date // 10000:04}-{date // 100 % 100:02}-{date % 100:02}T{time // 100:02}:{time % 100:02}:00Z"
            arrays = [ec.codes_get_array(g, key) for key in ("latitudes", "longitudes", "values")]
            found[name, at] = [a.reshape(NJ, NI) for a in arrays]
            ec.codes_release(g)
    return found


def at_place(field, lat, lon):
    lats, lons, values = field
    j = max(j for j in range(NJ - 1) if min(lats[j, 0], lats[j + 1, 0]) <= lat <= max(lats[j, 0], lats[j + 1, 0]))
    i = max(i for i in range(NI - 1) if lons[0, i] <= lon <= lons[0, i + 1])
    y = (lat - lats[j, 0]) / (lats[j + 1, 0] - lats[j, 0])
    x = (lon - lons[0, i]) / (lons[0, i + 1] - lons[0, i])
    top = values[j, i] * (1 - x) + values[j, i + 1] * x
    low = values[j + 1, i] * (1 - x) + values[j + 1, i + 1] * x
    return float(top * (1 - y) + low * y)


def main():
    a = common.args(__doc__)
    rows = []
    for name, (packing, northward) in FILES.items():
        path = f"{a.out}/{name}"
        write(path, packing, northward)
        fields = read(path)
        for lat, lon in PLACES:
            for at in sorted({at for _, at in fields}):
                u, v, gust = (at_place(fields[what, at], lat, lon) for what in ("u", "v", "gust"))
                rows.append(dict(file=name, lat=lat, lon=lon, t_utc=at, mean_kn=math.hypot(u, v) / KNOT,
                                 from_deg=math.degrees(math.atan2(-u, -v)) % 360, gust_kn=gust / KNOT))
    common.write_csv(f"{a.out}/wind_grib.csv", list(rows[0]), rows, dict(lat=4, lon=4, mean_kn=4, from_deg=3, gust_kn=4))


if __name__ == "__main__":
    main()
