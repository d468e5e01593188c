"""A plain afternoon of numpy and scipy on the pictures that the truth bench writes out, for comparison.

cargo bench --bench truth -- --n 4 --export DIR ; python3 benches/truth_baseline.py DIR [--tune]
Band profile along the true axis. Scales: local spacing by a short-time spectrum, the profile stretched to even spacing,
its peaks, then peaks of the crowding score. Otoliths: peaks of translucency with prominence, and the steepest place
after each. The numbers were tuned by --tune on pictures of the training seeds. Needs numpy, scipy and pillow.
"""
import csv
import pathlib
import sys
import time
import warnings

import numpy as np
from PIL import Image
from scipy.ndimage import gaussian_filter1d, map_coordinates, median_filter
from scipy.signal import find_peaks, stft

warnings.filterwarnings("ignore")

SCALE = dict(half=3, window_um=200, smooth=0.1, apart=0.5, ridge=0.1, h=3, even=0.5, score=0.15, least=0.15, refine=3)
OTOLITH = dict(half=15, trend=8, smooth_um=6, prominence=0.6, apart_um=12)
TRIED = {
    "scale": dict(half=[2, 3, 6, 10], window_um=[150, 200, 280], smooth=[0.1, 0.15, 0.2], apart=[0.4, 0.5, 0.6, 0.7],
                  ridge=[0.1, 0.3, 0.5, 0.8], h=[3, 4, 5], even=[0, 0.5, 0.8], score=[0.1, 0.15, 0.2, 0.3],
                  least=[0.05, 0.1, 0.15, 0.2], refine=[0, 2, 3]),
    "otolith": dict(half=[8, 15, 25], trend=[6, 8, 12, 16], smooth_um=[4, 6, 8, 10],
                    prominence=[0.4, 0.6, 0.8, 1.0, 1.3], apart_um=[6, 12, 20]),
}


def profile(image, row, half_px):
    focus = np.array([float(row["fx"]), float(row["fy"])])
    end = np.array([float(row["ex"]), float(row["ey"])])
    length = np.hypot(*(end - focus))
    along = (end - focus) / length
    across = np.array([-along[1], along[0]])
    edge_px = float(row["edge_um"]) / float(row["um_per_px"])
    t = np.arange(0, min(edge_px, length), 0.5)
    offsets = np.arange(-half_px, half_px + 1)
    points = focus + t[:, None, None] * along + offsets[None, :, None] * across
    values = map_coordinates(image, [points[..., 1], points[..., 0]], order=1, mode="nearest")
    return t * float(row["um_per_px"]), values


def local_spacing(um, values, window_um):
    step = um[1] - um[0]
    even = values - gaussian_filter1d(values, 40 / step)
    even = even / np.sqrt(gaussian_filter1d(even * even, 150 / step) + 1e-9)
    n = max(8, min(int(window_um / step), len(values) - 2))
    hop = min(max(1, int(8 / step)), n - 1)
    f, t, z = stft(even, fs=1 / step, nperseg=n, noverlap=n - hop, nfft=4 * n, boundary="even")
    usual = (f > 1 / 80) & (f < 1 / 13)
    power = gaussian_filter1d(np.abs(z[usual]) * np.sqrt(f[usual])[:, None], 1, axis=1)
    spacing = median_filter(1 / f[usual][np.argmax(power, 0)], 5)
    return np.interp(um, t, spacing)


def scale(um, band, light, half, window_um, smooth, apart, ridge, h, even, score, least, refine):
    values = band.mean(axis=1)
    if len(values) < 60:
        return []
    phase = np.concatenate([[0], np.cumsum((um[1] - um[0]) / local_spacing(um, values, window_um))[:-1]])
    grid = np.arange(0, phase[-1], 0.1)
    stretched, where = np.interp(grid, phase, values), np.interp(grid, phase, um)
    rest = stretched - gaussian_filter1d(stretched, 10)
    rest = gaussian_filter1d(rest / np.sqrt(gaussian_filter1d(rest * rest, 60) + 1e-9), 10 * smooth)
    best = None
    for lines in (rest, -rest):
        tops, _ = find_peaks(lines, distance=max(1, apart * 10), prominence=ridge)
        if len(tops) >= 2 * h + 2:
            gaps = np.log(np.diff(where[tops]))
            rough = np.median(np.abs(np.diff(gaps)))
            if best is None or rough < best[0]:
                best = (rough, where[tops], gaps)
    if best is None:
        return []
    _, circuli, gaps = best
    steady = gaussian_filter1d(gaps, even) if even else gaps
    n = len(gaps)
    crowding = np.array([steady[i:i + h].mean() - steady[max(0, i - h):i].mean() if 2 <= i < n - 1 else 0.0
                         for i in range(n)])
    tops, _ = find_peaks(crowding, prominence=score)
    marks = set()
    for i in tops[crowding[tops] > least]:
        if refine:
            low, high = max(1, i - refine + 1), min(n, i + refine)
            i = low + int(np.argmax(gaps[low:high] - gaps[low - 1:high - 1]))
        marks.add((circuli[i] + circuli[i + 1]) / 2)
    return sorted(marks)


def otolith(um, band, light, half, trend, smooth_um, prominence, apart_um):
    values = np.median(band, axis=1)
    step = um[1] - um[0]
    signal = values if light == "transmitted" else -values
    rest = signal - gaussian_filter1d(signal, len(um) / trend)
    smooth = gaussian_filter1d(rest, max(1.0, smooth_um / step))
    tops, _ = find_peaks(smooth, prominence=prominence * smooth.std(), distance=max(1, int(apart_um / step)))
    slope = -np.gradient(smooth)
    marks = []
    for i, top in enumerate(tops):
        stop = tops[i + 1] if i + 1 < len(tops) else len(um)
        marks.append(um[top + int(np.argmax(slope[top:stop]))])
    return [m for m in marks if m > 0.03 * um[-1]]


def matched(found, truth, edge):
    pairs = []
    for j, t in enumerate(truth):
        before = t - (truth[j - 1] if j else 0.0)
        after = truth[j + 1] - t if j + 1 < len(truth) else np.inf
        tolerance = min(0.03 * edge, 0.5 * min(before, after))
        pairs += [(abs(f - t), i, j) for i, f in enumerate(found) if abs(f - t) <= tolerance]
    used_i, used_j, errors = set(), set(), []
    for error, i, j in sorted(pairs):
        if i not in used_i and j not in used_j:
            used_i.add(i)
            used_j.add(j)
            errors.append(error)
    return errors


def measured(rows, structure, numbers):
    find = scale if structure == "scale" else otolith
    hits = found_all = truth_all = exact = 0
    errors, spent = [], 0.0
    for row, image in rows:
        start = time.perf_counter()
        found = find(*profile(image, row, numbers["half"]), row["light"], **numbers)
        spent += time.perf_counter() - start
        truth = [float(a) for a in row["annuli_um"].split()]
        got = matched(found, truth, float(row["edge_um"]))
        hits, found_all, truth_all = hits + len(got), found_all + len(found), truth_all + len(truth)
        errors += got
        exact += len(found) == len(truth)
    return hits, found_all, truth_all, exact, errors, spent


def tuned(rows, structure, numbers):
    def f1(numbers):
        hits, found, truth, *_ = measured(rows, structure, numbers)
        return 2 * hits / max(found + truth, 1)

    best = f1(numbers)
    for _ in range(2):
        for name, values in TRIED[structure].items():
            for value in values:
                other = {**numbers, name: value}
                got = f1(other)
                if got > best:
                    best, numbers = got, other
    print(structure, "tuned to", numbers)
    return numbers


def main(folder, tune):
    every = [(row, np.asarray(Image.open(folder / row["file"])).astype(np.float32))
             for row in csv.DictReader((folder / "truth.csv").open()) if row["readable"] == "true"]
    for structure, numbers in (("scale", SCALE), ("otolith", OTOLITH)):
        of = [(row, image) for row, image in every if row["structure"] == structure]
        if tune and of:
            numbers = tuned(of, structure, numbers)
        for difficulty in ("easy", "medium", "hard", None):
            rows = [r for r in of if difficulty in (None, r[0]["difficulty"])]
            if rows:
                hits, found, truth, exact, errors, spent = measured(rows, structure, numbers)
                n = len(rows)
                print(f"{structure:8} {difficulty or 'all':7} n {n:4} precision {hits / max(found, 1):.3f} "
                      f"recall {hits / max(truth, 1):.3f} F1 {2 * hits / max(found + truth, 1):.3f} "
                      f"exact {exact / n:.2f} median {np.median(errors) if errors else float('nan'):.1f} um "
                      f"{1000 * spent / n:.0f} ms")


main(pathlib.Path(sys.argv[1]), "--tune" in sys.argv)
