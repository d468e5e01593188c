#!/bin/sh
# Refits and propagation beside scipy doing the same in the same run; prints seconds and ratios.
# Wants python3 with numpy and scipy.
set -eu
here=$(cd "$(dirname "$0")/.." && pwd)
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
if [ "${GROWTH_BENCH:-}" ]; then
    "$GROWTH_BENCH" --export "$work" >"$work/ours"
else
    (cd "$here" && cargo bench --bench growth -- --export "$work") >"$work/ours"
fi
OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python3 "$here/benches/growth_baseline.py" "$work" >"$work/theirs"
echo "                         ours, s   scipy, s   ratio"
while read -r name ours; do
    theirs=$(awk -v name="$name" '$1 == name { print $2 }' "$work/theirs")
    awk -v n="$name" -v a="$ours" -v b="$theirs" 'BEGIN { printf "%-22s %9.4f %10.4f %7.1f\n", n, a, b, b / a }'
done <"$work/ours"
