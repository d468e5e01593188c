#!/usr/bin/env bash
# Pictures of the Read desk in every state, from the real window under a virtual display, into docs/pictures.
# Usage: bash benches/pictures.sh [path of the program] [folder for the pictures]. WINTERLINE_DEMO: a demo survey drawn before.
#
# Each step waits for what the window writes of itself (WINTERLINE_STATE_LOG), for at most WINTERLINE_PATIENCE seconds (600), and
# then WINTERLINE_PAUSE seconds (1) for the picture to be drawn.
set -euo pipefail
cd "$(dirname "$0")/.."
program=$(realpath "${1:-target/release/winterline}")
out=$(realpath "${2:-docs/pictures}")
patience=${WINTERLINE_PATIENCE:-600}
pause=${WINTERLINE_PAUSE:-1}
work=$(mktemp -d)
export XDG_DATA_HOME="$work/data" XDG_CONFIG_HOME="$work/config"
export WINTERLINE_STATE_LOG="$work/state.log"
screen=${WINTERLINE_SCREEN:-:96}
pids=()
trap 'kill -9 "${pids[@]}" 2>/dev/null || true; wait 2>/dev/null; rm -rf "$work"' EXIT
Xvfb "$screen" -screen 0 1280x800x24 +extension GLX -nolisten tcp >/dev/null 2>&1 &
pids+=($!)
export DISPLAY="$screen"
unset WAYLAND_DISPLAY

until_true() {
  local what=$1 end=$((SECONDS + patience))
  shift
  until "$@"; do
    [ "$SECONDS" -lt "$end" ] || { echo "waited too long for $what; last: $(tail -1 "$WINTERLINE_STATE_LOG")" >&2; exit 1; }
    sleep 0.1
  done
}
says() { tail -1 "$WINTERLINE_STATE_LOG" 2>/dev/null | grep -qE "$1"; }
until_true "the display" xdotool getdisplaygeometry >/dev/null 2>&1

cd "$work"
if [ -n "${WINTERLINE_DEMO:-}" ]; then
  cp -r "$WINTERLINE_DEMO" maple-hollow-2025
else
  "$program" demo maple-hollow-2025 --no-window >/dev/null
fi

is_focused() {
  window=$(xdotool search --onlyvisible --name 'Winterline' 2>/dev/null | tail -1)
  [ -n "$window" ] && xdotool windowsize "$window" 1280 800 2>/dev/null \
    && xdotool windowmove "$window" 0 0 2>/dev/null && xdotool windowfocus "$window" 2>/dev/null
}
open_window() {
  rm -rf "$XDG_DATA_HOME" "$WINTERLINE_STATE_LOG"
  "$program" "$@" &
  app=$!
  pids+=("$app")
  until_true "the window" is_focused
  until_true "the first frame" says 'desk=read'
  turn light
}
close_window() { kill -9 "$app"; wait "$app" 2>/dev/null || true; }
press() { for key in "$@"; do xdotool key "$key"; sleep "$pause"; done; }
# Light or dark, whatever the window began with.
turn() {
  says "theme=$1" || xdotool key y
  until_true "the theme" says "theme=$1"
}
# A scan is on show and nothing is being worked on.
is_calm() { says 'picture=ready busy=no'; }
shot() {
  sleep "$pause"
  # Few colours keep the files small; the grey of a scan needs no more.
  import -window root -colors 96 -depth 8 -define png:compression-level=9 "$out/$1.png"
}

open_window
xdotool mousemove 1279 799
shot read-empty
press ctrl+t
until_true "a structure to practise on" is_calm
press shift+a 4 c
until_true "the truth" says 'state=confirmed'
shot read-practice
close_window

open_window read maple-hollow-2025 --reader nb
until_true "the scan" is_calm
press bracketright
shot read-desk
press shift+a
# Alternatives have no certainty, so that the keys reach the next annulus outwards only.
for _ in 1 2 3 4; do press bracketright s s; done
press 9
until_true "the draft" says 'saved=yes'
shot read-doubtful
press F2
shot read-settings
press Escape
turn dark
shot read-desk-dark
turn light
# A scan that the survey's own reader called regenerated or unreadable: the program proposes nothing on it.
refused=$(grep -lE '"outcome": *"(regenerated|unreadable)"' maple-hollow-2025/scans/*.kb.json | head -1 || true)
if [ -n "$refused" ]; then
  scan=$(basename "$refused" .kb.json)
  press ctrl+f
  xdotool type --delay 60 "$(echo "$scan" | sed 's/\..*//; s/^[^0-9]*//')"
  press Return
  until_true "the refused scan" says "scan=$scan "
  until_true "the refused scan" is_calm
  shot read-refused
fi
close_window

export WINIT_X11_SCALE_FACTOR=2
open_window read maple-hollow-2025 --reader nb
until_true "the scan" is_calm
shot read-200-percent
close_window
