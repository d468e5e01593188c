"""Decoding, an overview and a profile with scikit-image, on the pictures that the bench wrote.

scans_baseline.py DIR    (needs numpy, scikit-image, tifffile, pillow)
The overview is what a viewer needs: the picture in 8 bits and halved by means down to one tile.
"""

import sys
import time
import warnings

import numpy as np
from skimage import io
from skimage.measure import profile_line
from skimage.transform import downscale_local_mean

RUNS = 3
warnings.filterwarnings("ignore")


def fastest_ms(work):
    best = float("inf")
    for _ in range(RUNS):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return 1000 * best


def overview(image):
    levels = [image if image.dtype == np.uint8 else (image >> 8).astype(np.uint8)]
    while max(levels[-1].shape) > 256:
        levels.append(downscale_local_mean(levels[-1], (2, 2)).astype(np.uint8))
    return levels


def main(folder):
    for name in ("eight.tif", "sixteen.tif", "eight-lzw.tif", "eight.png", "eight.jpg"):
        path = f"{folder}/{name}"
        try:
            print(f"decode_{name} {fastest_ms(lambda: io.imread(path)):.1f}")
        except Exception as error:  # tifffile needs another package for LZW
            print(f"decode_{name} nan")
            print(f"{name}: {error}", file=sys.stderr)
            continue
        image = io.imread(path)
        print(f"overview_{name} {fastest_ms(lambda: overview(image)):.1f}")
    image = io.imread(f"{folder}/sixteen.tif")
    side = image.shape[0]
    start, end = (0.2 * side, 0.1 * side), (0.7 * side, 0.9 * side)
    for width in (1, 21):
        work = lambda: profile_line(image, start, end, linewidth=width, order=1, mode="nearest")
        print(f"profile_{width} {fastest_ms(work):.3f}")
    print(f"copy_sixteen {fastest_ms(lambda: image.copy()):.1f}")


main(sys.argv[1])
