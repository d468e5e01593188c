#!/usr/bin/env bash
# Pictures of the Agree desk, of a disagreement opened on it and of a blind list, on the demo survey, light and dark.
# bash benches/pictures-agree.sh [PROGRAM] [FOLDER]   needs Xvfb, xdotool, ImageMagick
set -euo pipefail
cd "$(dirname "$0")/.."
program=$(realpath "${1:-target/release/winterline}")
folder=${2:-docs/pictures}
mkdir -p "$folder"
folder=$(realpath "$folder")
work=$(mktemp -d)
screen=${WINTERLINE_SCREEN:-:94}
pids=()
trap 'kill -9 "${pids[@]}" 2>/dev/null || true; wait 2>/dev/null; rm -rf "$work"' EXIT

Xvfb "$screen" -screen 0 1280x800x24 +extension GLX -nolisten tcp >/dev/null 2>&1 &
pids+=($!)
sleep 1.5
export DISPLAY="$screen"
unset WAYLAND_DISPLAY
survey="$work/maple-hollow-2025"
# WINTERLINE_DEMO names a demo survey that is there already.
if [ -n "${WINTERLINE_DEMO:-}" ]; then cp -r "$WINTERLINE_DEMO" "$survey"; else "$program" demo "$survey" --no-window >/dev/null; fi

# Opens the window; the remaining words go to `read`.
open_window() {
  export XDG_DATA_HOME="$work/data-$RANDOM" XDG_CONFIG_HOME="$work/config-$RANDOM"
  "$program" read "$survey" "$@" &
  app=$!
  pids+=("$app")
  for _ in $(seq 120); do
    sleep 0.5
    window=$(xdotool search --onlyvisible --name 'Winterline' 2>/dev/null | tail -1 || true)
    [ -n "$window" ] && xdotool windowfocus "$window" 2>/dev/null && break
  done
  xdotool windowmove "$window" 0 0 windowsize "$window" 1280 800 || true
  sleep "${WINTERLINE_WAIT:-5}"
}
key() { xdotool key "$1"; sleep "${2:-1.2}"; }
# Few colours make small files: nothing here needs more than 250 greys and inks.
shot() {
  import -window root "$work/shot.png"
  convert "$work/shot.png" -colors 250 -define png:compression-level=9 PNG8:"$folder/$1.png"
}
command_by_name() { key ctrl+k; xdotool type --delay 30 "$1"; sleep 0.6; key Return; }

for theme in -dark ""; do
  open_window --reader kb
  # Without a desktop to say otherwise the window starts dark; Y switches.
  [ -n "$theme" ] || key y
  xdotool mousemove 20 790
  key ctrl+3 4
  shot "agree-desk$theme"
  # The first fish they part on.
  xdotool mousemove 600 552 click 1
  sleep 4
  xdotool mousemove 20 790
  sleep 1
  shot "agree-fish$theme"
  kill -9 "$app"
  wait "$app" 2>/dev/null || true
done
