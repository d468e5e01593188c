#!/bin/sh
# The figures of docs/finding-figures.md: fits on training seeds, judges every style of the test seeds by a model that
# never saw it, and runs the plain scipy baseline on the very same pictures. Needs python3 with numpy, scipy, pillow.
# Second argument: the folder of the networks (DEVELOPERS.md); without it scales are judged without a network.
set -e
folder="${1:-target/truth-pictures}"
networks="${2:+--networks $2}"
# shellcheck disable=SC2086  # no folder, no argument
cargo bench --bench truth -- --leave-one-style-out --n 8 --n-train 8 --seeds test --export "$folder" $networks
python3 "$(dirname "$0")/truth_baseline.py" "$folder"
