#!/bin/sh
# Agreement on a million simulated pairs beside numpy and scipy doing the same: time, peak memory, and that the
# numbers are the same. Needs python3 with numpy and scipy.  sh benches/agree.sh [N]
set -eu
cd "$(dirname "$0")/.."
n=${1:-1000000}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cargo bench --bench agree --no-run 2>/dev/null
program=$(cargo bench --bench agree --no-run --message-format=json 2>/dev/null |
    python3 -c 'import json, sys
for line in sys.stdin:
    one = json.loads(line)
    if one.get("executable") and one["target"]["name"] == "agree":
        print(one["executable"])' | tail -1)
# Runs a command, its output to a file, and prints its peak memory in MB.
peak() {
    out=$1
    shift
    python3 - "$out" "$@" <<'PY'
import resource, subprocess, sys
with open(sys.argv[1], "w") as out:
    subprocess.run(sys.argv[2:], stdout=out, check=True)
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024)
PY
}
ours=$(peak "$work/ours" "$program" "$n" "$work/ages.csv")
theirs=$(peak "$work/theirs" python3 benches/agree_baseline.py "$work/ages.csv")
python3 - "$work/ours" "$work/theirs" "$ours" "$theirs" <<'PY'
import sys
def lines(path):
    return [line.split() for line in open(path)]
ours, theirs = lines(sys.argv[1]), lines(sys.argv[2])
worst = 0.0
for (name, a), (other, b) in zip(ours, theirs, strict=True):
    assert name == other, (name, other)
    if name.endswith("_seconds"):
        print(f"{name:16} {float(a):9.4f} s, numpy and scipy {float(b):9.4f} s, {float(b) / float(a):6.1f} times as long")
    else:
        worst = max(worst, abs(float(a) - float(b)) / max(abs(float(b)), 1e-12))
print(f"largest relative difference of any statistic {worst:.1e}")
print(f"peak memory {sys.argv[3]} MB, numpy and scipy {sys.argv[4]} MB")
PY
