#!/usr/bin/env bash
# Cold and warm starts, the size of the program and its memory. starts.sh PROGRAM SURVEY   (the window: needs a display)
set -euo pipefail
program=$1
survey=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
export XDG_DATA_HOME="$work/data" XDG_CONFIG_HOME="$work/config"

# Medians of eleven runs, in milliseconds. The first is cold where the system lets its file cache be emptied.
times() {
  python3 - "$@" <<'PYTHON'
import pathlib, statistics, subprocess, sys, time
name, *command = sys.argv[1:]
try:
    pathlib.Path("/proc/sys/vm/drop_caches").write_text("3")
    cold = "with an empty file cache"
except OSError:
    cold = "first"
runs = []
for _ in range(12):
    start = time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True)
    runs.append(1000 * (time.perf_counter() - start))
print(f"{name:44} {cold} {runs[0]:7.0f} ms, then median {statistics.median(runs[1:]):7.1f} ms")
PYTHON
}
times "winterline --version" "$program" --version
times "winterline lengths, 120 fish with sidecars" "$program" lengths "$survey" --json
times "python: import numpy, scipy.optimize, pandas" python3 -c 'import numpy, scipy.optimize, pandas'

if [ -n "${DISPLAY:-}" ]; then
  for run in cold warm warm; do
    [ "$run" = warm ] || sh -c 'echo 3 > /proc/sys/vm/drop_caches' 2>/dev/null || true
    log="$work/frames-$run.csv"
    began=$(date +%s%N)
    WINTERLINE_FRAME_LOG="$log" "$program" read "$survey" --reader nb 2>/dev/null &
    app=$!
    # The log is flushed when frames are many: the window on the screen is what counts.
    for _ in $(seq 600); do
      xdotool search --onlyvisible --name Winterline >/dev/null 2>&1 && break
      sleep 0.02
    done
    echo "window on the screen, $run: $((($(date +%s%N) - began) / 1000000)) ms"
    sleep 3
    echo "  its memory with the demo survey open: $(($(awk '/VmRSS/ { print $2 }' "/proc/$app/status") / 1024)) MB"
    kill -9 "$app"
    wait "$app" 2>/dev/null || true
  done
fi
echo "size of the program: $(($(stat -c %s "$program") / 1000000)) MB"
