#!/usr/bin/env bash
# Pictures of the Report desk and of a crew's sheet being taken in, on the demo survey, light and dark.
# bash benches/pictures-report.sh [PROGRAM] [FOLDER]   needs Xvfb, xdotool, ImageMagick
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
# WINTERLINE_PLACE: where the survey is to lie, since its path is seen in the pictures.
survey="${WINTERLINE_PLACE:-$work}/maple-hollow-2025"
# WINTERLINE_DEMO names a demo survey that is there already.
if [ -n "${WINTERLINE_DEMO:-}" ]; then cp -r "$WINTERLINE_DEMO" "$survey"; else "$program" demo "$survey" --no-window >/dev/null; fi

# The demo's own field sheet as a crew might keep it: other headings, the month first, one length in inches.
python3 - "$survey/fish.csv" "$work/crew sheet.csv" <<'PY'
import csv, sys
rows = list(csv.DictReader(open(sys.argv[1])))
with open(sys.argv[2], "w", newline="") as out:
    sheet = csv.writer(out)
    sheet.writerow(["Env #", "Kind", "Date caught", "TL (mm)", "Wt (g)", "Sex", "Weather"])
    length = next(k for k in rows[0] if k.startswith("length") and k != "length_type")
    weight = next((k for k in rows[0] if k.startswith("weight")), None)
    for i, row in enumerate(r for r in rows if r.get("count") in (None, "", "1")):
        y, m, d = row["capture_date"].split("-")
        mm = row[length]
        if i == 3 and mm: mm = f"{float(mm) / 25.4:.1f}"
        if i == 5: mm = "long"
        sheet.writerow([row["fish"], row.get("species", ""), f"{int(m)}/{int(d)}/{y}", mm, row[weight] if weight else "", row.get("sex", ""), "rain"])
        if i == 40: break
PY

# Opens the window; the remaining words go to `read`.
open_window() {
  export XDG_DATA_HOME="$work/data-$RANDOM" XDG_CONFIG_HOME="$work/config-$RANDOM"
  "$program" read "$survey" "$@" &
  app=$!
  pids+=("$app")
  for _ in $(seq 120); do
    sleep 0.5
    window=$(xdotool search --onlyvisible --name 'Winterline' 2>/dev/null | tail -1 || true)
    if [ -n "$window" ] && xdotool windowfocus "$window" 2>/dev/null; then break; fi
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

for theme in -dark ""; do
  open_window --reader kb
  # Without a desktop to say otherwise the window starts dark; Y switches.
  [ -n "$theme" ] || key y
  xdotool mousemove 1270 400
  # A confirmed scan, so that no open reading hides lengths.
  key b 3
  key ctrl+5 "${WINTERLINE_LONG:-12}"
  shot "report-desk$theme"
  key ctrl+m 1.5
  # The path field of the screen, then its button.
  xdotool mousemove "${WINTERLINE_FIELD_X:-600}" "${WINTERLINE_FIELD_Y:-290}" click 1
  sleep 0.5
  xdotool type --delay 15 "$work/crew sheet.csv"
  key Tab 0.4
  key Return "${WINTERLINE_WAIT:-5}"
  xdotool mousemove 1270 700
  sleep 0.5
  shot "import-sheet$theme"
  kill -9 "$app"
  wait "$app" 2>/dev/null || true
done
