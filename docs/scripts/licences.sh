#!/usr/bin/env bash
# Writes docs/licences.md from what the program is built with: docs/scripts/licences.sh
set -euo pipefail
cd "$(dirname "$0")/../.."
{
  echo "# Licences"
  echo
  echo 'Of the libraries that the program is built with (`docs/scripts/licences.sh` writes this list from `cargo tree`), and of the embedded font.'
  echo
  echo "| library | licence |"
  echo "|---|---|"
  cargo tree --workspace --locked --edges normal --prefix none --format '{p}|{l}' |
    sed 's| (/[^|]*||; s| (proc-macro)||; s/ (\*)//' | grep -v '^stillwheel' | grep -v '^$' | sort -u | sed 's/\(.*\)|\(.*\)/| \1 | \2 |/'
  echo "| DejaVu Sans (font) | crates/drawing/fonts/LICENSE-DejaVu.txt |"
} > docs/licences.md
