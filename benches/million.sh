#!/bin/sh
# A million fish through `lengths`, CSV in and CSV out: seconds and peak memory.
# million.sh PROGRAM [FISH]   wants python3 (it makes the table and measures)
set -eu
program=$1
fish=${2:-1000000}
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
python3 - "$work/fish.csv" "$fish" <<'PY'
import random, sys
random.seed(1)
with open(sys.argv[1], "w") as out:
    out.write("fish,length_mm,radius_um," + ",".join(f"a{i}_um" for i in range(1, 8)) + "\n")
    for number in range(int(sys.argv[2])):
        age = random.randint(1, 7)
        length = 480 * (1 - 2.718281828 ** (-0.35 * (age + 0.9))) * random.gauss(1, 0.08)
        radius = (length - 25) * 7.5 * random.gauss(1, 0.03)
        annuli = [f"{radius * (i - 0.3) / age * 0.9:.1f}" if i <= age else "" for i in range(1, 8)]
        out.write(f"{number},{length:.1f},{radius:.1f},{','.join(annuli)}\n")
PY
python3 - "$program" "$work/fish.csv" "$work/out.csv" <<'PY'
import resource, subprocess, sys, time
program, table, out = sys.argv[1:]
start = time.perf_counter()
with open(out, "wb") as file:
    subprocess.run([program, "lengths", "--radii", table, "--method", "fraser-lee", "--csv"], stdout=file, check=True)
took = time.perf_counter() - start
peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
rows = sum(1 for _ in open(out)) - 1
print(f"{rows} fish in {took:.1f} s, peak memory {peak:.0f} MiB")
PY
