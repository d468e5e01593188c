#!/bin/sh
# The figures of docs/finding-figures.md: fits on training seeds, judges every style of the test seeds by a model that
# never saw it, and runs the plain scipy baseline on the very same pictures. Needs python3 with numpy, scipy, pillow.
set -e
folder="${1:-target/truth-pictures}"
cargo bench --bench truth -- --leave-one-style-out --n 10 --n-train 8 --seeds test --export "$folder"
python3 "$(dirname "$0")/truth_baseline.py" "$folder"
