"""Subject 4a. Tidal constituents by name.

tide_names.csv     V, f and u of every constituent that the bundled stations use, from pyTMD (corrections "FES": Schureman)
                   at three moments. rule is 0 where pyTMD has no node correction of its own for the name (f = 1, u = 0).
"""
import datetime as dt
import numpy as np
import pyTMD.constituents as tmd
import common

UTC = dt.timezone.utc
NAMES = """
K1 O1 M2 P1 S2 Q1 N2 K2 SA NU2 MU2 OO1 J1 L2 M1 M4 T2 2N2 SSA 2Q1 S1 R2 MF M6 MM MS4 MSF MN4 M3 S4 MTM RHO1 MB2 MA2 SIGMA1
2SM2 LAMBDA2 MSQM EPS2 M8 MKS2 2MS6 2MK5 2MO5 N4 S6 MK3 2MK3 ALPHA2 2MN6 MO3 SO3 2MK6 MK4 2SM6 SK3 MSN2 ETA2 GAMMA2 NO1 MSK6
SN4 PI1 PHI1 TAU1 PSI1 ALPHA1 THETA1 SO1 SK4 3MK7 TK1 SL4 SKM2 OP2 NO3 MSN6 MSL6 MSKO7 MSK5 MP1 MNS2 MNO5 MNK5 ML4 MKL2S2 M10
KP1 KJ2 CHI1 5MS12 4MSL12 4MSK11 4MS10 4MNS12 4MN10 4MLS8 4MK9 4M2S12 3MSL10 3MSK9 3MS8 3MS4 3MP5 3MNK9 3MN8 3MLS6 3ML8 3MK8
3M2S10 3KM5 2PO1 2NS2 2NMLS6 2NMK7 2NM6 2MSO7 2MSN8 2MSL8 2MSK8 2MS2K2 2MP5 2MNO7 2MLS4 2MLNS6 2ML6 2ML2S2 2M2NK9
""".split()
DATES = ["2012-02-29T06:00:00", "2026-11-25T00:00:00", "2031-07-14T21:30:00"]


def main():
    a = common.args(__doc__)
    rows = []
    for d in DATES:
        t = dt.datetime.fromisoformat(d).replace(tzinfo=UTC)
        mjd = np.array([(t - dt.datetime(1858, 11, 17, tzinfo=UTC)).total_seconds() / 86400])
        for name in NAMES:
            u, f, G = tmd.arguments(mjd, [name.lower()], corrections="FES")
            fv, uv = float(f[0, 0]), float(np.degrees(u[0, 0]))
            rows.append(dict(constituent=name, t_utc=d + "Z", V_deg=float(G[0, 0]) % 360, f=fv, u_deg=uv,
                             rule=0 if fv == 1.0 and uv == 0.0 else 1))
    common.write_csv(f"{a.out}/tide_names.csv", ["constituent", "t_utc", "V_deg", "f", "u_deg", "rule"], rows,
                     dict(V_deg=4, f=5, u_deg=4))


if __name__ == "__main__":
    main()
