"""The same refits with numpy and scipy: curve_fit from the first fit, warm, one process.

growth_baseline.py DIR   (DIR/fish.csv as written by the bench)
"""

import csv
import sys
import time

import numpy as np
from scipy.optimize import curve_fit

REFITS, SAMPLES = 1000, 10_000


def curve(t, linf, k, t0):
    return linf * (1 - np.exp(-k * (t - t0)))


def main():
    with open(f"{sys.argv[1]}/fish.csv") as file:
        rows = list(csv.DictReader(file))
    age = np.array([float(r["age"]) for r in rows])
    part = np.array([float(r["part"]) for r in rows])
    length = np.array([float(r["length_mm"]) for r in rows])
    radius = np.array([float(r["radius_um"]) for r in rows])
    annuli = [np.array([float(x) for x in r["annuli_um"].split()]) for r in rows]
    rng = np.random.default_rng(1)
    n = len(age)
    for name, t in (("refits_whole_ages", age), ("refits_decimal_ages", age + part)):
        first, _ = curve_fit(curve, t, length, p0=(500, 0.3, -0.4))
        start = time.perf_counter()
        for _ in range(REFITS):
            drawn = rng.integers(0, n, n)
            curve_fit(curve, t[drawn], length[drawn], p0=first)
        print(name, f"{time.perf_counter() - start:.6f}")
    flat = np.concatenate(annuli)
    fish = np.repeat(np.arange(n), [len(a) for a in annuli])
    last = np.cumsum([len(a) for a in annuli]) - 1
    number = np.concatenate([np.arange(1, len(a) + 1) for a in annuli])

    def lengths(radii, totals):
        slope = np.cov(totals, length, bias=True)[0, 1] / np.var(totals)
        a = length.mean() - slope * totals.mean()
        return a + (length[fish] - a) * radii / totals[fish]

    first, _ = curve_fit(curve, age, lengths(flat, radius)[last], p0=(500, 0.3, -0.4))
    found, start = [], time.perf_counter()
    for _ in range(SAMPLES):
        focus = 15.0 * rng.standard_normal(n)
        totals = radius + 20.0 * rng.standard_normal(n) - focus
        back = lengths(flat + 20.0 * rng.standard_normal(len(flat)) - focus[fish], totals)
        np.bincount(number, back)
        found.append(curve_fit(curve, age, back[last], p0=first)[0])
    print("propagation", f"{time.perf_counter() - start:.6f}")
    print("K_sd", f"{np.std(found, axis=0)[1]:.6f}")


main()
