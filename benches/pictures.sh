#!/usr/bin/env bash
# Pictures of the Read desk in every state, from the real window under a virtual display, into docs/pictures.
# Usage: bash benches/pictures.sh [path of the program]. WINTERLINE_WAIT: seconds to wait for slow steps (4);
# WINTERLINE_DEMO: a demo survey drawn before.
set -euo pipefail
cd "$(dirname "$0")/.."
program=$(realpath "${1:-target/release/winterline}")
out=$(realpath docs/pictures)
work=$(mktemp -d)
export XDG_DATA_HOME="$work/data" XDG_CONFIG_HOME="$work/config"
screen=${WINTERLINE_SCREEN:-:96}
wait_s=${WINTERLINE_WAIT:-4}
pids=()
trap 'kill -9 "${pids[@]}" 2>/dev/null || true; wait 2>/dev/null; rm -rf "$work"' EXIT
Xvfb "$screen" -screen 0 1280x800x24 +extension GLX -nolisten tcp >/dev/null 2>&1 &
pids+=($!)
sleep 1.5
export DISPLAY="$screen"
unset WAYLAND_DISPLAY
cd "$work"
if [ -n "${WINTERLINE_DEMO:-}" ]; then
  cp -r "$WINTERLINE_DEMO" maple-hollow-2025
else
  "$program" demo maple-hollow-2025 --no-window >/dev/null
fi

open_window() {
  rm -rf "$XDG_DATA_HOME"
  "$program" "$@" &
  app=$!
  pids+=("$app")
  for _ in $(seq 240); do
    sleep 0.5
    window=$(xdotool search --onlyvisible --name 'Winterline' 2>/dev/null | tail -1)
    [ -n "$window" ] && xdotool windowsize "$window" 1280 800 2>/dev/null \
      && xdotool windowmove "$window" 0 0 2>/dev/null && xdotool windowfocus "$window" 2>/dev/null && break
  done
  sleep "$((wait_s * 2))"
}
close_window() { kill -9 "$app"; wait "$app" 2>/dev/null || true; }
press() { for key in "$@"; do xdotool key "$key"; sleep 0.7; done; }
shot() {
  sleep "$wait_s"
  # Few colours keep the files small; the grey of a scan needs no more.
  import -window root -colors 96 -depth 8 -define png:compression-level=9 "$out/$1.png"
}

open_window
xdotool mousemove 1279 799
shot read-empty
press ctrl+t; sleep "$((wait_s * 2))"; press shift+a 4 c
shot read-practice
close_window

open_window read maple-hollow-2025 --reader nb
press bracketright
shot read-desk
press shift+a bracketright s s 9
shot read-doubtful
press F2
shot read-settings
press Escape y
shot read-desk-dark
press y
# A scan that the survey's own reader called regenerated or unreadable: the program proposes nothing on it.
refused=$(grep -lE '"outcome": *"(regenerated|unreadable)"' maple-hollow-2025/scans/*.kb.json | head -1 || true)
if [ -n "$refused" ]; then
  refused=$(basename "$refused" | sed 's/\..*//; s/^[^0-9]*//')
  press ctrl+f; xdotool type --delay 60 "$refused"; sleep 0.8; press Return
  sleep "$wait_s"
  shot read-refused
fi
close_window

export WINIT_X11_SCALE_FACTOR=2
open_window read maple-hollow-2025 --reader nb
shot read-200-percent
close_window
