#!/usr/bin/env bash
# An archive of 1,000 surveys of 1,000 fish, 200 of them aged with sidecars: `compare` for the first time, again unchanged,
# and again after one survey changed; time and peak memory. Beside it pandas reads the same field sheets and takes the mean
# of means. Needs GNU time; pandas where it is there.
#   bash benches/archive.sh PROGRAM [SURVEYS FISH AGED]
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
program=$(realpath "${1:-target/release/winterline}")
surveys=${2:-1000} fish=${3:-1000} aged=${4:-200}
work=${WINTERLINE_ARCHIVE:-$(mktemp -d)}
[ -n "${WINTERLINE_ARCHIVE:-}" ] || trap 'rm -rf "$work"' EXIT
if [ ! -d "$work/archive" ]; then
  writer=${WINTERLINE_ARCHIVE_WRITER:-}
  if [ -n "$writer" ]; then "$writer" "$work/archive" "$surveys" "$fish" "$aged"
  else (cd "$here/.." && cargo bench --bench archive -- "$work/archive" "$surveys" "$fish" "$aged"); fi
  sleep 5 # files younger than a few seconds are not kept in the index
fi
rm -rf "$work/archive/.winterline-index"

timed() { # what, then the command
  local what=$1; shift
  /usr/bin/time -f "%e s  (processor %U + %S s)  %M KB" -o "$work/time" "$@" >"$work/out" 2>"$work/err"
  printf '%-44s %s  (%s)\n' "$what" "$(cat "$work/time")" "$(grep -o '[0-9]* unchanged.*' "$work/err" || true)"
}

timed "compare, every survey read, no index" "$program" compare "$work/archive" --json --without-index
cp "$work/out" "$work/plain"
timed "compare, first time" "$program" compare "$work/archive" --json
cmp "$work/out" "$work/plain"
timed "compare, unchanged" "$program" compare "$work/archive" --json
cmp "$work/out" "$work/plain"
one=$(find "$work/archive" -name '*.kb.json' -print -quit)
sed -i 's/"age": [0-9]*/"age": 30/' "$one"
timed "compare, one survey changed" "$program" compare "$work/archive" --json
! cmp -s "$work/out" "$work/plain"
cp "$work/out" "$work/changed"
timed "compare, the same, no index" "$program" compare "$work/archive" --json --without-index
cmp "$work/out" "$work/changed"
if python3 -c 'import pandas' 2>/dev/null; then
  timed "pandas, field sheets alone, mean of means" python3 "$here/archive_baseline.py" "$work/archive"
  tail -n 3 "$work/out"
else
  echo "pandas is not there: no baseline"
fi
