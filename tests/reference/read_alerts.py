#!/usr/bin/env python3
"""Sentences on standard input as pynmeagps 1.1.8 reads them: one JSON object a line.

alerts_sent.jsonl was made so from the alert sentences that the program sends.
"""
import json
import sys

from pynmeagps import VALCKSUM, NMEAReader

for line in sys.stdin:
    raw = line.strip()
    if not raw:
        continue
    read = NMEAReader.parse((raw + "\r\n").encode("ascii"), validate=VALCKSUM)
    fields = {name: str(value) for name, value in vars(read).items() if not name.startswith("_")}
    print(json.dumps({"raw": raw, "type": read.msgID, "fields": fields}, ensure_ascii=False))
