#!/usr/bin/env bash
# Frame times of the real window under a virtual display with software rendering. See benches/frames/main.rs.
set -euo pipefail
cd "$(dirname "$0")/.."
screen=${WINTERLINE_SCREEN:-:94}
Xvfb "$screen" -screen 0 1400x900x24 +extension GLX -nolisten tcp >/dev/null 2>&1 &
server=$!
trap 'kill -9 "$server" 2>/dev/null || true; wait 2>/dev/null' EXIT
for _ in $(seq 600); do
  DISPLAY="$screen" xdotool getdisplaygeometry >/dev/null 2>&1 && break
  sleep 0.1
done
unset WAYLAND_DISPLAY
DISPLAY="$screen" cargo bench --bench frames -- "$@"
