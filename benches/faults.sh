#!/usr/bin/env bash
# Faults that need rights, room or time: a full disk, folders that may not be written, very many scans. Needs root on
# Linux (it mounts a small disk in memory and takes it away again). See docs/trust.md.
set -euo pipefail
cd "$(dirname "$0")/.."
[ "$(id -u)" = 0 ] || { echo "run this as root: it mounts a disk of one megabyte" >&2; exit 2; }

test_program=$(cargo test --test trust --no-run --message-format short 2>&1 | sed -n 's/.*(\(.*\/trust-[0-9a-f]*\))$/\1/p' | tail -1)
[ -x "$test_program" ] || { echo "the tests did not build: run cargo test --test trust" >&2; exit 1; }

room=$(mktemp -d)
take_down() {
  umount "$room/disk" 2>/dev/null || true
  rm -rf "$room"
}
trap take_down EXIT
mkdir "$room/disk"
mount -t tmpfs -o size=1m tmpfs "$room/disk"

run() {
  echo "==> $1"
  "$test_program" "$1" --nocapture --test-threads 1
}

WINTERLINE_SMALL_DISK="$room/disk" run the_disk_is_full
WINTERLINE_SCANS="${WINTERLINE_SCANS:-100000}" run a_folder_of_very_many_scans

# Rights are not asked of root, so as the user who owns nothing.
echo "==> the_folder_and_the_file_may_not_be_written"
cp "$test_program" "$room/test_program"
chmod 755 "$room" "$room/test_program"
mkdir -m 777 "$room/tmp"
TMPDIR="$room/tmp" setpriv --reuid=65534 --regid=65534 --clear-groups \
  "$room/test_program" the_folder_and_the_file_may_not_be_written --nocapture
