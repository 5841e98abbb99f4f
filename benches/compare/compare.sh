#!/usr/bin/env bash
# Times the engine against the same loop in numpy and numba, on this machine, in one go:
# makes a virtual environment, installs them, builds the release program, runs compare.py.
# Shows (speed): the same loop in numpy and numba, which agree within 4.5 standard errors. Source: numpy, numba.
set -euo pipefail
cd "$(dirname "$0")/../.."
venv="${HALFTURN_VENV:-target/compare-venv}"
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet -r tests/reference/requirements.txt
cargo build --release --locked --quiet
"$venv/bin/python" benches/compare/compare.py "${CARGO_TARGET_DIR:-target}/release/halfturn"
