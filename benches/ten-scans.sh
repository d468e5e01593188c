#!/usr/bin/env bash
# Ten demo scans read by keyboard alone in the real window under a virtual display: keys a fish, and the sidecars left.
# Usage: bash benches/ten-scans.sh [path of the program]. WINTERLINE_DEMO: a demo survey drawn before.
#
# Nothing waits for a time: each key waits for what the window writes of itself (WINTERLINE_STATE_LOG) and for the
# sidecar on disk, for at most WINTERLINE_PATIENCE seconds (600).
set -euo pipefail
cd "$(dirname "$0")/.."
program=$(realpath "${1:-target/release/winterline}")
patience=${WINTERLINE_PATIENCE:-600}
work=$(mktemp -d)
export XDG_DATA_HOME="$work/data" XDG_CONFIG_HOME="$work/config"
export WINTERLINE_STATE_LOG="$work/state.log"
screen=${WINTERLINE_SCREEN:-:95}
pids=()
trap 'kill -9 "${pids[@]}" 2>/dev/null || true; wait 2>/dev/null; rm -rf "$work"' EXIT
Xvfb "$screen" -screen 0 1400x900x24 +extension GLX -nolisten tcp >/dev/null 2>&1 &
pids+=($!)
export DISPLAY="$screen"
unset WAYLAND_DISPLAY

# Waits until a command succeeds.
until_true() {
  local what=$1 end=$((SECONDS + patience))
  shift
  until "$@"; do
    [ "$SECONDS" -lt "$end" ] || { echo "waited too long for $what; last: $(tail -1 "$WINTERLINE_STATE_LOG")" >&2; exit 1; }
    sleep 0.1
  done
}
says() { tail -1 "$WINTERLINE_STATE_LOG" 2>/dev/null | grep -qE "$1"; }
field() { tail -1 "$WINTERLINE_STATE_LOG" | tr ' ' '\n' | sed -n "s/^$1=//p"; }
confirmed() { grep -l '"state": *"confirmed"' "$survey"/scans/*.nb.json 2>/dev/null | wc -l; }

survey="$work/maple-hollow-2025"
if [ -n "${WINTERLINE_DEMO:-}" ]; then
  cp -r "$WINTERLINE_DEMO" "$survey"
else
  "$program" demo "$survey" --no-window >/dev/null
fi
until_true "the display" xdotool getdisplaygeometry >/dev/null 2>&1
"$program" read "$survey" --reader nb &
app=$!
pids+=("$app")
is_focused() {
  window=$(xdotool search --onlyvisible --name 'Winterline' 2>/dev/null | tail -1)
  [ -n "$window" ] && xdotool windowfocus "$window" 2>/dev/null
}
until_true "the window" is_focused

keys=0
press() {
  xdotool key "$1"
  keys=$((keys + 1))
}
is_next() { says 'picture=ready busy=no' && says 'state=draft' && [ "$(field scan)" != "$scan" ]; }
has_confirmed() { [ "$(confirmed)" -ge "$1" ] && says 'state=confirmed'; }
scan=none easy=0 easy_keys=0
for fish in $(seq 10); do
  until_true "the next scan" is_next
  scan=$(field scan)
  before=$keys proposed=$(field proposals)
  if [ "$proposed" -gt 0 ]; then
    # Accept all proposals and judge the margin as wide.
    press shift+a
    until_true "the marks" says "marks=$proposed "
    press 4
    until_true "the margin" says 'edge=wide'
  else
    # The program refuses this one: so does this reader.
    press u
  fi
  press c
  until_true "the sidecar" has_confirmed "$fish"
  [ "$fish" -eq 10 ] || press j
  # Right where the survey's own reader gave the same age.
  age_of() { grep -o '"age": *[0-9]*' "$1" 2>/dev/null | head -1 | grep -o '[0-9]*' || echo none; }
  other=$(ls "$survey/scans/$scan".*.json | grep -v '\.nb\.json$' | head -1 || true)
  nb=$(age_of "$survey/scans/$scan.nb.json") kb=$(age_of "${other:-/dev/null}")
  if [ "$proposed" -gt 0 ] && [ "$nb" = "$kb" ]; then
    easy=$((easy + 1)) easy_keys=$((easy_keys + keys - before))
  fi
  printf 'fish %d, %s: %d keys, %d proposed, age %s (the reader of the demo: %s), %d confirmed on disk\n' \
    "$fish" "$scan" $((keys - before)) "$proposed" "$nb" "$kb" "$(confirmed)"
done
printf 'keys a fish: %s; where the age is that of the reader of the demo (%d fish): %s\n' \
  "$(awk "BEGIN { print $keys / 10 }")" "$easy" "$(awk "BEGIN { print $easy ? $easy_keys / $easy : 0 }")"
kill -9 "$app"
for file in "$survey"/scans/*.nb.json; do
  age=$(grep -o '"age": *[0-9]*' "$file" | head -1 | grep -o '[0-9]*' || true)
  annuli=$(grep -c '"kind": *"annulus"' "$file" || true)
  state=$(grep -o '"state": *"[a-z]*"' "$file" | head -1 | cut -d'"' -f4)
  printf '%s: %s, age %s, %s annuli\n' "$(basename "$file")" "$state" "${age:-none}" "$annuli"
done
"$program" check "$survey" >/dev/null && printf 'the survey has no errors\n'
