#!/usr/bin/env bash
# Every benchmark, beside what a general-purpose tool needs for the same work in the same run; writes docs/benchmarks.md.
#
#   bash benches/all.sh            about 40 minutes on two cores, most of it building; WINTERLINE_PROGRAM names a program built before
#
# Needs python3 with numpy, scipy, scikit-image, tifffile, imagecodecs, pandas and pillow; Xvfb and xdotool for the window.
# Run it on a machine that does nothing else: the load beside each section tells.
set -euo pipefail
cd "$(dirname "$0")/.."
out=docs/benchmarks.md
program=${WINTERLINE_PROGRAM:-target/release/winterline}
work=$(mktemp -d)
screen=${WINTERLINE_SCREEN:-:96}
trap 'kill -9 "${server:-}" 2>/dev/null || true; rm -rf "$work"' EXIT

[ -n "${WINTERLINE_PROGRAM:-}" ] || cargo build --release
cargo bench --no-run
# WINTERLINE_DEMO names a demo survey that is there already.
if [ -n "${WINTERLINE_DEMO:-}" ]; then cp -r "$WINTERLINE_DEMO" "$work/demo"; else "$program" demo "$work/demo" --no-window >/dev/null; fi

{
  cat <<'TEXT'
# Benchmarks

Made anew by one command, on a machine that does nothing else:

```sh
bash benches/all.sh
```

Each figure stands beside what a general-purpose tool (Python with numpy, scipy, scikit-image, pandas) needs for the same work, taken
in the same run. The comparison is plain whole-array code as an analyst would write it. Ratios above 1 mean that Winterline is faster.
TEXT
  printf '\nMachine: %s cores, %s; %s; python %s.\n' "$(nproc)" "$(sed -n 's/^model name[^:]*: //p' /proc/cpuinfo | head -1)" \
    "$(rustc --version | cut -d' ' -f1,2)" \
    "$(python3 -c 'import sys, numpy, scipy, skimage, pandas; print(sys.version.split()[0] + ", numpy " + numpy.__version__ + ", scipy " + scipy.__version__ + ", scikit-image " + skimage.__version__ + ", pandas " + pandas.__version__)')"
} >"$work/page.md"

# Adds a section: its title, what it means, and what its command printed.
section() {
  local title=$1 words=$2
  shift 2
  printf '==> %s\n' "$title" >&2
  local load shown
  # As a reader would type it.
  shown=${*//"$program"/target/release/winterline}
  shown=${shown//"$work/demo"/maple-hollow-2025}
  load=$(cut -d' ' -f1 /proc/loadavg)
  if ! "$@" >"$work/section.txt" 2>"$work/section.err"; then
    cat "$work/section.err" >&2
    printf 'it failed: %s\n' "$*" >&2
    exit 1
  fi
  {
    printf '\n## %s\n\n%s Load before: %s. `%s`\n\n```text\n' "$title" "$words" "$load" "$shown"
    cat "$work/section.txt"
    printf '```\n'
  } >>"$work/page.md"
}

section "Large scans" "10 000 x 10 000 pixels, milliseconds; \`copy_sixteen\` is what memory alone takes to copy the decoded picture." \
  bash benches/scans.sh
section "Proposals" "Two megapixels, in one process with warm caches; decoding is left out on both sides. The ratio here is our time over that of scipy: above 1 is slower." bash benches/propose.sh
section "Agreement" "A million pairs of ages." sh benches/agree.sh
section "Back-calculation" "Fraser-Lee, CSV in and CSV out, whole processes." python3 benches/lengths_baseline.py "$program"
section "Fits, bootstrap, propagation of errors" "Single start, warm." sh benches/growth.sh
section "Archive" "1,000 surveys of 1,000 fish, 200 of each aged with sidecars." bash benches/archive.sh "$program"
section "Report" "The demo survey, with a reading card of each fish." python3 benches/report_time.py "$program" "$work/demo"
Xvfb "$screen" -screen 0 1400x900x24 +extension GLX -nolisten tcp >/dev/null 2>&1 &
server=$!
sleep 1.5
unset WAYLAND_DISPLAY
export DISPLAY="$screen"
section "Starts, size, memory" "The window under Xvfb with software rendering." bash benches/starts.sh "$program" "$work/demo"
kill -9 "$server" 2>/dev/null || true

# What people wrote about the figures stays.
[ ! -f "$out" ] || sed -n '/^## What stands between/,$p' "$out" | sed '1s/^/\n/' >>"$work/page.md"
cp "$work/page.md" "$out"
printf 'written: %s\n' "$out"
