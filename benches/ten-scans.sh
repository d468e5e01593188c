#!/usr/bin/env bash
# Ten demo scans read by keyboard alone in the real window under a virtual display: keys a fish, and the sidecars left.
# Usage: bash benches/ten-scans.sh [path of the program]
set -euo pipefail
cd "$(dirname "$0")/.."
program=${1:-target/release/winterline}
work=$(mktemp -d)
export XDG_DATA_HOME="$work/data" XDG_CONFIG_HOME="$work/config"
screen=${WINTERLINE_SCREEN:-:95}
pids=()
trap 'kill -9 "${pids[@]}" 2>/dev/null || true; wait 2>/dev/null; rm -rf "$work"' EXIT
Xvfb "$screen" -screen 0 1400x900x24 +extension GLX -nolisten tcp >/dev/null 2>&1 &
pids+=($!)
sleep 1.5
export DISPLAY="$screen"
unset WAYLAND_DISPLAY

survey="$work/maple-hollow-2025"
if [ -n "${WINTERLINE_DEMO:-}" ]; then
  cp -r "$WINTERLINE_DEMO" "$survey"
else
  "$program" demo "$survey" --no-window >/dev/null
fi
"$program" read "$survey" --reader nb &
app=$!
pids+=("$app")
for _ in $(seq 240); do
  sleep 0.5
  window=$(xdotool search --onlyvisible --name 'Winterline' 2>/dev/null | tail -1)
  [ -n "$window" ] && xdotool windowfocus "$window" 2>/dev/null && break
done
sleep "${WINTERLINE_WAIT:-6}"

keys=0
press() {
  xdotool key "$1"
  keys=$((keys + 1))
  sleep "${WINTERLINE_PAUSE:-0.8}"
}
confirmed() { grep -l '"state": *"confirmed"' "$survey"/scans/*.nb.json 2>/dev/null | wc -l; }
for fish in $(seq 10); do
  before=$keys
  # Accept all proposals, judge the margin as wide, confirm, go to the next unread scan.
  press shift+a
  press 4
  press c
  for _ in $(seq 60); do
    [ "$(confirmed)" -ge "$fish" ] && break
    sleep 0.5
  done
  press j
  sleep "${WINTERLINE_WAIT:-6}"
  printf 'fish %d: %d keys, %d confirmed on disk\n' "$fish" $((keys - before)) "$(confirmed)"
done
printf 'keys a fish: %s\n' "$(awk "BEGIN { print $keys / 10 }")"
kill -9 "$app"
for file in "$survey"/scans/*.nb.json; do
  age=$(grep -o '"age": *[0-9]*' "$file" | head -1 | grep -o '[0-9]*' || true)
  annuli=$(grep -c '"kind": *"annulus"' "$file" || true)
  state=$(grep -o '"state": *"[a-z]*"' "$file" | head -1 | cut -d'"' -f4)
  printf '%s: %s, age %s, %s annuli\n' "$(basename "$file")" "$state" "${age:-none}" "$annuli"
done
"$program" check "$survey" >/dev/null && printf 'the survey has no errors\n'
