"""Makes reference files again and compares them with those kept here: python check.py SUBJECT...

A subject is the middle of a generator's name: `catenary` for gen_catenary.py. Needs the versions in requirements.txt.
Numbers may differ by 1e-6 of their size or 2e-6 (the last digit printed, on another processor); text must be the same.
Only the files that the generator writes are compared, row by row. Ends with status 1 if anything differs.
"""
import csv, json, math, os, subprocess, sys, tempfile

HERE = os.path.dirname(os.path.abspath(__file__))


def number(text):
    try:
        return float(text)
    except (TypeError, ValueError):
        return None


def same(a, b):
    if isinstance(a, dict) and isinstance(b, dict):
        return a.keys() == b.keys() and all(same(a[k], b[k]) for k in a)
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(map(same, a, b))
    x, y = number(a), number(b)
    if x is None or y is None or isinstance(a, bool):
        return a == b
    return math.isclose(x, y, rel_tol=1e-6, abs_tol=2e-6) or (math.isnan(x) and math.isnan(y))


def rows(path):
    if path.endswith(".grib2"):
        with open(path, "rb") as f:
            return [f.read().hex()]
    with open(path, newline="") as f:
        if path.endswith(".csv"):
            return list(csv.reader(f))
        if path.endswith(".jsonl"):
            return [json.loads(line) for line in f]
        return [json.load(f)]


def main():
    wrong = 0
    for subject in sys.argv[1:]:
        with tempfile.TemporaryDirectory() as out:
            subprocess.run([sys.executable, os.path.join(HERE, f"gen_{subject}.py"), "--out", out], check=True, stdout=subprocess.DEVNULL)
            for name in sorted(os.listdir(out)):
                kept = os.path.join(HERE, name)
                if not os.path.exists(kept):
                    print(f"{name}: made, but not kept here")
                    continue
                old, new = rows(kept), rows(os.path.join(out, name))
                bad = [i for i, pair in enumerate(zip(old, new)) if not same(*pair)]
                if len(old) != len(new) or bad:
                    wrong += 1
                    print(f"{name}: {len(old)} rows kept, {len(new)} made, different: {bad[:10]}")
                else:
                    print(f"{name}: {len(old)} rows agree")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
