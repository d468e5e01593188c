"""The mean of water means by pandas, from the field sheets of an archive alone: it reads no sidecar, so it knows no ages,
and takes the mean length at capture by water in place of the mean at each age."""

import sys
from pathlib import Path

import pandas as pd

sheets = sorted(Path(sys.argv[1]).rglob("fish.csv"))
frames = []
for sheet in sheets:
    frame = pd.read_csv(sheet, dtype={"fish": str, "run": str})
    frame["water"] = sheet.parent.name.rsplit("-", 1)[0]
    frames.append(frame)
fish = pd.concat(frames)
means = fish.groupby(["water", "species"])["length_mm"].mean()
print(len(sheets), "sheets", len(fish), "fish")
print(means.groupby("species").agg(["mean", "std", "count"]))
