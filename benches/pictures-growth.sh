#!/bin/bash
# Pictures of the Lengths and Growth desks on the demo survey, light and dark, under Xvfb.
# pictures-growth.sh PROGRAM SURVEY FOLDER   wants Xvfb, xdotool and ImageMagick's import
set -eu
program=$1; survey=$2; folder=$3; screen=${SCREEN:-:93}
mkdir -p "$folder"
export XDG_DATA_HOME=$(mktemp -d) XDG_CONFIG_HOME=$(mktemp -d)
unset WAYLAND_DISPLAY || true
Xvfb "$screen" -screen 0 1400x900x24 +extension GLX -nolisten tcp >/dev/null 2>&1 & server=$!
trap 'kill "$window" "$server" 2>/dev/null || true' EXIT
sleep 1.5; export DISPLAY=$screen
"$program" read "$survey" --reader kb & window=$!
for _ in $(seq 120); do
    sleep 0.5
    id=$(xdotool search --onlyvisible --name Winterline 2>/dev/null | tail -1 || true)
    if [ -n "$id" ]; then xdotool windowsize "$id" 1400 900; xdotool windowmove "$id" 0 0; xdotool windowfocus "$id" && break; fi
done
sleep "${WAIT:-4}"
key() { xdotool key "$1"; sleep "${2:-1}"; }
key b 3
key ctrl+2 "${LONG:-6}"; import -window root "$folder/lengths-one.png"
key ctrl+4 "${LONG:-6}"; xdotool mousemove 760 330; sleep 1; import -window root "$folder/growth-one.png"
key y 1.5; import -window root "$folder/growth-two.png"
key ctrl+2 2; import -window root "$folder/lengths-two.png"
