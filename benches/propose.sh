#!/usr/bin/env bash
# Times proposing and the plain scipy pipeline on the same two pictures of two megapixels, one after the other, and prints
# the ratio. Decoding is left out on both sides; the baseline is given the true axis. Needs numpy, scipy and pillow.
set -euo pipefail
cd "$(dirname "$0")/.."
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
WINTERLINE_BENCH_FOLDER=$folder cargo bench --quiet --bench propose > "$folder/ours.txt"
python3 - "$folder" <<'PYTHON'
import contextlib
import csv
import io
import pathlib
import runpy
import statistics
import sys
import time

import numpy as np
from PIL import Image

folder = pathlib.Path(sys.argv[1])
with contextlib.redirect_stdout(io.StringIO()):
    plain = runpy.run_path("benches/truth_baseline.py")
ours = {tuple(line.split()[:2]): float(line.split()[2]) for line in (folder / "ours.txt").open() if line.strip()}
for row in csv.DictReader((folder / "truth.csv").open()):
    image = np.asarray(Image.open(folder / row["file"])).astype(np.float32)
    structure = row["structure"]
    numbers = plain[structure.upper()]
    times = []
    for _ in range(12):
        start = time.perf_counter()
        um, band = plain["profile"](image, row, numbers["half"])
        plain[structure](um, band, row["light"], **numbers)
        times.append(1000 * (time.perf_counter() - start))
    scipy_ms = statistics.median(times[1:])
    for what in ("suggested", "given", "moved"):
        ms = ours[structure, what]
        print(f"{structure:8} {image.shape[1]} x {image.shape[0]} px, axis {what:9} {ms:7.1f} ms; "
              f"scipy on a given axis {scipy_ms:6.1f} ms; ratio {ms / scipy_ms:.2f}")
PYTHON
