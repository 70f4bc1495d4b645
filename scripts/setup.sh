# Sourced by the scripts beside it: a virtual environment in .venv with tillercount in it.
# Quick when nothing has changed since the last time. Usage: source setup.sh [EXTRA]
# shellcheck shell=bash

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
venv=$root/.venv
extra=${1:-}

fail() {
  printf 'set-up: %s\n' "$*" >&2
  exit 1
}

new_enough() {
  "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null
}

find_python() {
  local name
  for name in ${PYTHON:-} python3 python3.14 python3.13 python3.12 python3.11 python; do
    if command -v "$name" >/dev/null 2>&1 && new_enough "$name"; then
      command -v "$name"
      return
    fi
  done
  return 1
}

# Everything that ends up in the environment, in one number.
fingerprint() {
  (
    cd "$root" || exit 1
    find tillercount models pyproject.toml setup.py README.md -type f \
      ! -path '*/__pycache__/*' -exec cksum {} + 2>/dev/null | LC_ALL=C sort | cksum
  )
}

quiet_pip() {
  "$venv/bin/python" -m pip install --quiet --disable-pip-version-check "$@" ||
    fail "pip could not install $*; is this machine online, and is there room on the disk?"
}

if ! [ -x "$venv/bin/python" ] || ! new_enough "$venv/bin/python"; then
  python=$(find_python) ||
    fail "Python 3.11 or newer is needed; install it, or name it: PYTHON=/path/to/python3 $0"
  printf 'set-up: making %s with %s\n' "$venv" "$("$python" --version)"
  rm -rf "$venv"
  "$python" -m venv "$venv" ||
    fail "no virtual environment could be made (on Debian and Ubuntu: apt install python3-venv)"
fi

libraries=$(cksum <"$root/pyproject.toml")
if [ "$(cat "$venv/.libraries$extra" 2>/dev/null)" != "$libraries" ]; then
  if ! "$venv/bin/python" -c 'import torch' 2>/dev/null; then
    printf 'set-up: installing torch and the other libraries (once; a few minutes)\n'
    if command -v nvidia-smi >/dev/null 2>&1 && nvidia-smi -L >/dev/null 2>&1; then
      quiet_pip torch
    else
      quiet_pip torch==2.13.0
    fi
  fi
  quiet_pip "$root${extra:+[$extra]}"
  printf '%s\n' "$libraries" >"$venv/.libraries$extra"
  fingerprint >"$venv/.program"
elif [ "$(cat "$venv/.program" 2>/dev/null)" != "$(fingerprint)" ]; then
  printf 'set-up: installing the changed program\n'
  quiet_pip --no-deps --force-reinstall "$root"
  fingerprint >"$venv/.program"
fi
rm -rf "$root/build" "$root"/*.egg-info
