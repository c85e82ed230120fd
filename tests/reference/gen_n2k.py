"""Subject 18. NMEA 2000 frames as text, by the encoder of the Python library nmea2000 (PyPI, 2026.10.3, Apache-2.0).

n2k.jsonl  each row: "lines" (frames as RAW text or candump), "values" (SI units and degrees, as given to the encoder and rounded
           to the message's own steps; missing: "not available"), "pgn"
n2k_vessels.jsonl  the same of what transponders say, 40 messages of each kind

The rows marked "capture" are short excerpts of the sample captures of the canboat project (github.com/canboat/canboat, Apache-2.0,
commit 01d0dcc3), decoded by the same library.
"""
import json, math, random, os
from nmea2000 import _canboat
from nmea2000.decoder import NMEA2000Decoder
import common

NAMES = {126992: "systemTime", 127250: "vesselHeading", 127258: "magneticVariation", 127488: "engineParametersRapidUpdate",
         128259: "speed", 128267: "waterDepth", 129025: "positionRapidUpdate", 129026: "cogSogRapidUpdate",
         129029: "gnssPositionData", 130306: "windData"}

VESSELS = {129038: "aisClassAPositionReport", 129039: "aisClassBPositionReport", 129040: "aisClassBExtendedPositionReport",
           129794: "aisClassAStaticAndVoyageRelatedData", 129809: "aisClassBStaticDataMsg24PartA",
           129810: "aisClassBStaticDataMsg24PartB"}

CAPTURES = [  # samples/candumpSample2.txt, samples/candumpSample3.txt, samples/merrimac-ydwg-2020.raw
    (129029, ["  can0  0DF8057F   [8]  20 2B 00 74 40 A0 7C 97", "  can0  0DF8057F   [8]  21 0A 00 10 FF ED F5 21",
              "  can0  0DF8057F   [8]  22 E5 05 00 A9 F1 8F F6", "  can0  0DF8057F   [8]  23 88 16 F6 90 BA C5 03",
              "  can0  0DF8057F   [8]  24 00 00 00 00 12 FC 00", "  can0  0DF8057F   [8]  25 BE 00 54 01 E1 F2 FF",
              "  can0  0DF8057F   [8]  26 FF 00 FF FF FF FF FF"]),
    (129029, ["00:29:58.993 R 0DF80515 00 2B 09 FF FF FF FF FF", "00:29:58.993 R 0DF80515 01 FF FF FF FF FF FF FF",
              "00:29:58.994 R 0DF80515 02 FF 7F FF FF FF FF FF", "00:29:58.994 R 0DF80515 03 FF FF 7F FF FF FF FF",
              "00:29:58.996 R 0DF80515 04 FF FF FF 7F 00 FC 07", "00:29:58.996 R 0DF80515 05 FF 7F FF 7F FF FF FF",
              "00:29:58.997 R 0DF80515 06 7F FF FF FF FF FF FF"]),
    (127250, ["(1502984866.421964) slcan0 09F112CC#FF725AFF7FFF7FFD"]),
    (129025, ["(1502984866.429139) slcan0 09F8012B#F12B6B1B8E5E36FF"]),
    (129026, ["(1502984866.473256) slcan0 09F8022B#FF00000001000000"]),
    (128267, ["(1502984866.872165) slcan0 0DF50B74#00D0000000FFFFFF"]),
    (130306, ["(1502984866.820360) slcan0 09FD0274#009201124DFAFFFF"]),
    (130306, ["00:29:58.618 R 09FD020D FF A4 01 51 F2 FB FF FF"]),
    (128267, ["21:55:35.913 R 0DF50B23 FF FF FF FF FF 00 00 FF"]),
]


def step(value, resolution):
    return round(value / resolution) * resolution


def made(r):
    """One message of each kind: its number and its fields in SI units."""
    angle = lambda: step(r.uniform(0, 2 * math.pi - 1e-4), 1e-4)
    corr = lambda: step(r.uniform(-0.6, 0.6), 1e-4)
    maybe = lambda value: value if r.random() < 0.8 else None
    lat, lon = r.uniform(-72, 72), r.uniform(-179.99, 179.99)
    day, time = r.randint(11000, 40000), step(r.uniform(0, 86399.9), 1e-4)
    return [
        (126992, {"sid": 1, "source": r.choice([0, 1, 2, 5]), "date": day, "time": time}),
        (127250, {"sid": 1, "heading": angle(), "deviation": maybe(corr()), "variation": maybe(corr()),
                  "reference": r.choice([0, 1])}),
        (127258, {"sid": 1, "source": r.choice([0, 1, 4, 8]), "ageOfService": day, "variation": maybe(corr())}),
        (127488, {"instance": r.choice([0, 1]), "speed": step(r.uniform(0, 4000), 0.25) / 60.0}),
        (128259, {"sid": 1, "speedWaterReferenced": maybe(step(r.uniform(0, 12), 0.01))}),
        (128267, {"sid": 1, "depth": maybe(step(r.uniform(0.3, 150), 0.01)), "offset": maybe(step(r.uniform(-3, 3), 1e-3)),
                  "range": None}),
        (129025, {"latitude": step(lat, 1e-7), "longitude": step(lon, 1e-7)}),
        (129026, {"sid": 1, "cogReference": r.choice([0, 0, 1]), "cog": maybe(angle()), "sog": step(r.uniform(0, 15), 0.01)}),
        (129029, {"sid": 1, "date": day, "time": time, "latitude": lat, "longitude": lon, "altitude": 3.0, "gnssType": 3,
                  "method": r.randint(0, 8), "integrity": 1, "numberOfSvs": r.randint(4, 24), "hdop": step(r.uniform(0.5, 9), 0.01),
                  "pdop": 2.0, "geoidalSeparation": 45.0, "referenceStations": 0}),
        (130306, {"sid": 1, "windSpeed": step(r.uniform(0, 35), 0.01), "windAngle": angle(), "reference": r.randint(0, 4)}),
    ]


def vessels(r):
    """One message of each kind that tells of another vessel."""
    maybe = lambda value: value if r.random() < 0.8 else None
    angle = lambda: step(r.uniform(0, 2 * math.pi - 1e-4), 1e-4)
    mmsi = r.randint(200_000_000, 775_999_999)
    moves = lambda kind: {"messageId": kind, "repeatIndicator": 0, "userId": mmsi, "longitude": step(r.uniform(-179.9, 179.9), 1e-7),
                          "latitude": step(r.uniform(-72, 72), 1e-7), "positionAccuracy": 1, "raim": 0, "timeStamp": r.randint(0, 59),
                          "cog": maybe(angle()), "sog": maybe(step(r.uniform(0, 20), 0.01)),
                          "aisTransceiverInformation": r.randint(0, 4)}
    length, beam = step(r.uniform(4, 300), 0.1), step(r.uniform(1, 40), 0.1)
    size = {"length": length, "beam": beam, "positionReferenceFromStarboard": step(r.uniform(0, beam), 0.1),
            "positionReferenceFromBow": step(r.uniform(0, length), 0.1)}
    name = "".join(r.choice("ABCDEFGHIJKLMNOPQRSTUVWXYZ 0123456789") for _ in range(r.randint(1, 20))).strip() or "A"
    way = {"aisTransceiverInformation": r.randint(0, 4)}
    return [
        (129038, moves(r.choice([1, 2, 3])) | {"heading": maybe(angle()), "navStatus": r.randint(0, 8)}),
        (129039, moves(18) | {"heading": maybe(angle())}),
        (129040, moves(19) | size | {"trueHeading": maybe(angle()), "name": name}),
        (129794, {"messageId": 5, "userId": mmsi, "name": name} | size | way),
        (129809, {"messageId": 24, "userId": mmsi, "name": name} | way),
        (129810, {"messageId": 24, "userId": mmsi} | size | way),
    ]


def text(pgn, source, data, form):
    ident = _canboat.can_id_compose(2, pgn, source, 255)
    hexed = [f"{b:02X}" for b in data]
    return {"raw": f"17:33:21.107 R {ident:08X} " + " ".join(hexed),
            "log": f"(1436509052.249713) can0 {ident:08X}#" + "".join(hexed),
            "spaced": f"  can0  {ident:08X}   [{len(data)}]  " + " ".join(hexed)}[form]


def main():
    a = common.args(__doc__)
    r, db, rows = random.Random(a.p["n2k"]["seed"]), _canboat.Database(), []
    for n in range(a.p["n2k"]["rounds"]):
        for pgn, fields in made(r):
            values = {k: v for k, v in fields.items() if v is not None}
            payload = db.encode(NAMES[pgn], values)
            source = r.randint(0, 251)
            frames = _canboat.fast_packet_fragment(n % 8, payload) if pgn == 129029 else [payload]
            form = r.choice(["raw", "log", "spaced"])
            rows.append({"pgn": pgn, "source": source, "lines": [text(pgn, source, f, form) for f in frames], "values": values})
    for pgn, lines in CAPTURES:
        decoder, message = NMEA2000Decoder(), None
        for line in lines:
            message = decoder.decode(line.strip()) or message
        raw = {f.id: f.raw_value if f.raw_value is not None else f.value for f in message.fields}
        values = {k: v for k, v in raw.items() if isinstance(v, (int, float))}
        rows.append({"pgn": pgn, "source": message.source, "lines": lines, "values": values, "capture": True})
    common.write_jsonl(os.path.join(a.out, "n2k.jsonl"), rows)
    r, rows = random.Random(a.p["n2k"]["seed"] + 1), []
    for n in range(40):
        for pgn, fields in vessels(r):
            values = {k: v for k, v in fields.items() if v is not None}
            source, form = r.randint(0, 251), r.choice(["raw", "log", "spaced"])
            # The encoder moves the bits behind a communication state that is left out.
            state = {"communicationState": bytes([r.randint(0, 255), r.randint(0, 255), r.randint(0, 7)])} if pgn in (129038, 129039) else {}
            frames = _canboat.fast_packet_fragment(n % 8, db.encode(VESSELS[pgn], values | state))
            rows.append({"pgn": pgn, "source": source, "lines": [text(pgn, source, f, form) for f in frames], "values": values})
    common.write_jsonl(os.path.join(a.out, "n2k_vessels.jsonl"), rows)


main()
