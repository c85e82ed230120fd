"""Waves by wind, fetch and depth, from a coastal engineers' library (ScientiMate 2.0): Shore Protection Manual 1984.

waves.csv  water  wind_mps  fetch_m  depth_m (empty: deep)  height_m  period_s
Cases that the library cuts to limits of its own (another author's) are left out: the manual has no such step.
The library is read file by file, without the rest of its package: the two functions need numpy alone.
"""
import importlib.util, os, sys, types
import common

G = 9.81


def function(name):
    spec = importlib.util.find_spec("scientimate")
    path = os.path.join(list(spec.submodule_search_locations)[0], "ocean_wave_parametric_model", name + ".py")
    with open(path) as f:
        space = {}
        exec(compile(f.read(), path, "exec"), space)
    return space[name]


def main():
    a = common.args(__doc__)
    sys.modules.setdefault("scipy", types.ModuleType("scipy"))
    shallow, deep = function("parametricwaveshallow"), function("parametricwavedeep")
    rows = []
    for wind in (5.0, 10.0, 15.0, 20.0, 25.0):
        for fetch in (300.0, 926.0, 1852.0, 5000.0, 20000.0):
            h, t = deep(wind, fetch, "spmdeep", "no")[:2]
            rows.append(dict(water="deep", wind_mps=wind, fetch_m=fetch, depth_m=None, height_m=float(h[0]), period_s=float(t[0])))
            for depth in (2.0, 4.0, 8.0, 15.0, 30.0):
                h, t = shallow(wind, fetch, depth, "spmshallow", "no")[:2]
                # The library's own ceiling (Bretschneider): 4 sqrt(1.4e-3 (g d / U^2)^1.5 U^4 / g^2).
                ceiling = 4 * (1.4e-3 * (G * depth / wind**2) ** 1.5 * wind**4 / G**2) ** 0.5
                longest = 0.95 / (0.16 * (G * depth / wind**2) ** -0.375 * G / wind)
                if float(h[0]) < 0.999 * ceiling and float(t[0]) < 0.999 * longest:
                    rows.append(dict(water="bottom", wind_mps=wind, fetch_m=fetch, depth_m=depth, height_m=float(h[0]), period_s=float(t[0])))
    common.write_csv(f"{a.out}/waves.csv", ["water", "wind_mps", "fetch_m", "depth_m", "height_m", "period_s"], rows, dict(height_m=6, period_s=6))


if __name__ == "__main__":
    main()
