#!/usr/bin/env bash
# Opens a report in a browser without a window, and turns its printed pages into pictures to be looked at.
#
#   benches/report-pages.sh REPORT.html OUT
#
# Needs Chromium and pdftoppm (Debian: chromium, poppler-utils). Fails on a console error or on any request that leaves
# the file. Leaves OUT/report.pdf (A4), OUT/page-NN.png and OUT/screen.png.
set -euo pipefail
page=$(realpath "$1")
out=$2
mkdir -p "$out"
profile=$(mktemp -d)
trap 'rm -rf "$profile"' EXIT
browser=(chromium --headless --no-sandbox --disable-gpu --user-data-dir="$profile" --hide-scrollbars
    --disable-background-networking --disable-component-update --no-first-run)

"${browser[@]}" --enable-logging=stderr --v=0 --log-net-log="$out/net.json" --net-log-capture-mode=Default \
    --print-to-pdf="$out/report.pdf" --no-pdf-header-footer "file://$page" 2>"$out/log.txt"
if grep -E 'CONSOLE' "$out/log.txt"; then
    echo "the page wrote to the console" >&2
    exit 1
fi
# Every address the page asked for: its own file and pictures within it, nothing else.
python3 - "$out/net.json" <<'PY'
import json, re, sys
text = open(sys.argv[1]).read()
asked = {a for a in re.findall(r'"url":"(https?://[^"]+)"', text)}
# The browser's own errands are not the page's.
own = [a for a in asked if not re.search(r'google(apis)?\.com|gstatic\.com|gvt1\.com', a)]
if own:
    sys.exit("the page asked for: " + ", ".join(own))
print("no console message, no request beyond the file")
PY
"${browser[@]}" --screenshot="$out/screen.png" --window-size=1100,2600 "file://$page" 2>/dev/null
rm -f "$out"/page-*.png
pdftoppm -r 60 -png "$out/report.pdf" "$out/page"
ls "$out"/page-*.png | wc -l
