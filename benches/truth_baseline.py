"""A plain afternoon of numpy and scipy on the pictures that the truth bench writes out, for comparison.

cargo bench --bench truth -- --n 4 --export DIR ; python3 benches/truth_baseline.py DIR
Band profile along the true axis; scales: local spacing from peaks, then peaks of the crowding score; otoliths: peaks
of translucency with prominence. Needs numpy, scipy and pillow.
"""
import csv
import pathlib
import sys
import time

import numpy as np
from PIL import Image
from scipy.ndimage import gaussian_filter1d, map_coordinates
from scipy.signal import find_peaks


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
    return t * float(row["um_per_px"]), np.median(values, axis=1)


def scale(um, values):
    step = um[1] - um[0]
    detrended = values - gaussian_filter1d(values, 60 / step)
    smooth = gaussian_filter1d(detrended, 5 / step)
    tops, _ = find_peaks(smooth, distance=max(1, int(14 / step)), prominence=0.25 * smooth.std())
    if len(tops) < 8:
        return []
    circuli = um[tops]
    spacing = np.diff(circuli)
    h = 4
    middle = (circuli[:-1] + circuli[1:]) / 2
    score = np.array([
        np.log(spacing[i:i + h].mean() / spacing[max(0, i - h):i].mean()) if i >= 2 and i + 1 < len(spacing) else 0.0
        for i in range(len(spacing))
    ])
    marks, _ = find_peaks(score, prominence=0.2)
    return list(middle[marks])


def otolith(um, values, light):
    step = um[1] - um[0]
    signal = values if light == "transmitted" else -values
    rest = signal - gaussian_filter1d(signal, len(um) / 8)
    smooth = gaussian_filter1d(rest, max(1.0, 6 / step))
    tops, _ = find_peaks(smooth, prominence=0.6 * smooth.std(), distance=max(1, int(12 / step)))
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


def main(folder):
    rows = list(csv.DictReader((folder / "truth.csv").open()))
    for structure in ("scale", "otolith"):
        for difficulty in ("easy", "medium", "hard", None):
            hits = found_all = truth_all = exact = n = 0
            errors, spent = [], 0.0
            for row in rows:
                if row["structure"] != structure or row["readable"] != "true":
                    continue
                if difficulty and row["difficulty"] != difficulty:
                    continue
                image = np.asarray(Image.open(folder / row["file"])).astype(float)
                start = time.perf_counter()
                um, values = profile(image, row, 15)
                found = scale(um, values) if structure == "scale" else otolith(um, values, row["light"])
                spent += time.perf_counter() - start
                truth = [float(a) for a in row["annuli_um"].split()]
                got = matched(found, truth, float(row["edge_um"]))
                hits, found_all, truth_all = hits + len(got), found_all + len(found), truth_all + len(truth)
                errors += got
                exact += len(found) == len(truth)
                n += 1
            if n:
                print(f"{structure:8} {difficulty or 'all':7} n {n:4} precision {hits / max(found_all, 1):.3f} "
                      f"recall {hits / max(truth_all, 1):.3f} F1 {2 * hits / max(found_all + truth_all, 1):.3f} "
                      f"exact {exact / n:.2f} median {np.median(errors) if errors else float('nan'):.1f} um "
                      f"{1000 * spent / n:.0f} ms")


main(pathlib.Path(sys.argv[1]))
