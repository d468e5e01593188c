"""Lengths by Fraser-Lee with numpy and pandas, CSV in and CSV out, beside the program: seconds, peak memory, equal lengths.

lengths_baseline.py PROGRAM [FISH ...]    one line for each number of fish, so that the scaling shows
With --plain IN.csv OUT.csv it is the comparison itself, run in a process of its own.
"""

import pathlib
import resource
import subprocess
import sys
import tempfile
import time

import numpy as np
import pandas as pd


def plain(table, out):
    fish = pd.read_csv(table)
    radii = fish.filter(regex=r"^a\d+_um$")
    slope, intercept = np.polyfit(fish.radius_um, fish.length_mm, 1)
    share = radii.div(fish.radius_um, axis=0)
    lengths = intercept + share.mul(fish.length_mm - intercept, axis=0)
    lengths.columns = [f"l{i}_mm" for i in range(1, lengths.shape[1] + 1)]
    pd.concat([fish[["fish"]], lengths], axis=1).to_csv(out, index=False)


def make(path, count):
    random = np.random.default_rng(1)
    age = random.integers(1, 8, count)
    length = 480 * (1 - np.exp(-0.35 * (age + 0.9))) * random.normal(1, 0.08, count)
    radius = (length - 25) * 7.5 * random.normal(1, 0.03, count)
    fish = pd.DataFrame({"fish": np.arange(count), "length_mm": length.round(1), "radius_um": radius.round(1)})
    for i in range(1, 8):
        fish[f"a{i}_um"] = np.where(i <= age, (radius * (i - 0.3) / age * 0.9).round(1), np.nan)
    fish.to_csv(path, index=False)


def timed(command):
    """Seconds, and peak memory in MB, of a process of its own."""
    script = (
        "import resource, subprocess, sys, time\n"
        "start = time.perf_counter()\n"
        "with open(sys.argv[1], 'wb') as out: subprocess.run(sys.argv[2:], stdout=out, check=True)\n"
        "print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024)\n"
    )
    told = subprocess.run([sys.executable, "-c", script, *command], capture_output=True, text=True, check=True)
    seconds, memory = told.stdout.split()
    return float(seconds), float(memory)


def main(program, counts):
    print("     fish   ours, s   pandas, s  ratio   ours, MB  pandas, MB")
    for count in counts:
        with tempfile.TemporaryDirectory() as name:
            folder = pathlib.Path(name)
            make(folder / "fish.csv", count)
            ours, our_memory = timed(
                [str(folder / "ours.csv"), program, "lengths", "--radii", str(folder / "fish.csv"), "--method", "fraser-lee", "--csv"]
            )
            command = [sys.executable, __file__, "--plain", str(folder / "fish.csv"), str(folder / "plain.csv")]
            theirs, their_memory = timed([str(folder / "none"), *command])
            print(f"{count:9} {ours:9.3f} {theirs:11.3f} {theirs / ours:6.1f} {our_memory:10.0f} {their_memory:11.0f}")


if sys.argv[1] == "--plain":
    plain(*sys.argv[2:])
else:
    main(sys.argv[1], [int(word) for word in sys.argv[2:]] or [1_000, 10_000, 100_000, 1_000_000])
