#!/usr/bin/env bash
# Decoding, overview and profile of large scans beside scikit-image on the same files. scans.sh [SIDE]
set -euo pipefail
cd "$(dirname "$0")/.."
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
cargo bench --quiet --bench scans -- --side "${1:-10000}" --export "$folder" >"$folder/ours"
python3 benches/scans_baseline.py "$folder" >"$folder/theirs"
printf '%-26s %10s %14s %7s\n' "" "ours, ms" "scikit-image" "ratio"
while read -r name ours; do
  theirs=$(awk -v name="$name" '$1 == name { print $2 }' "$folder/theirs")
  awk -v n="$name" -v a="$ours" -v b="${theirs:--}" 'BEGIN {
    if (b + 0 > 0) printf "%-26s %10.1f %14.1f %7.1f\n", n, a, b, b / a
    else printf "%-26s %10.1f %14s\n", n, a, "-"
  }'
done <"$folder/ours"
