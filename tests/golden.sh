#!/usr/bin/env bash
# Holds other builds of the program, and other processors, against tests/data/golden.txt.
#
#   tests/golden.sh [debug|release|v3|native|sse|avx2|aarch64|windows]...     all of them without a name
#
# sse and avx2 run the release build on emulated processors without AVX, and without AVX-512 (Debian: qemu-user). aarch64 needs
# the target of rustup and a linker as well (Debian: gcc-aarch64-linux-gnu, libc6-dev-arm64-cross). windows is built with MinGW
# and run by Wine (Debian: gcc-mingw-w64-x86-64, wine64; docs/trust.md says what Wine 8 lacks), all but `judge` and files with paths. What is missing is said.
set -euo pipefail
cd "$(dirname "$0")/.."
target=$(realpath -m "${CARGO_TARGET_DIR:-target}")
skipped=()

check() {
  HALFTURN_GOLDEN_PROGRAM=$1 cargo test -q --locked --test integration golden::
}

has() {
  for tool in "$@"; do
    command -v "$tool" >/dev/null || { skipped+=("$name: no $tool"); return 1; }
  done
}

for name in "${@:-debug release v3 native sse avx2 aarch64 windows}"; do
  for name in $name; do
    echo "== $name"
    case $name in
      debug)
        cargo build -q --locked
        check "$target/debug/halfturn" ;;
      release)
        cargo build -q --locked --release
        check "$target/release/halfturn" ;;
      v3)
        RUSTFLAGS='-C target-cpu=x86-64-v3' cargo build -q --locked --release --target-dir "$target/v3"
        check "$target/v3/release/halfturn" ;;
      native)
        RUSTFLAGS='-C target-cpu=native' cargo build -q --locked --release --target-dir "$target/native"
        check "$target/native/release/halfturn" ;;
      sse)
        has qemu-x86_64 || continue
        cargo build -q --locked --release
        check "qemu-x86_64 -cpu Nehalem $target/release/halfturn" ;;
      avx2)
        has qemu-x86_64 || continue
        cargo build -q --locked --release
        check "qemu-x86_64 -cpu Haswell $target/release/halfturn" ;;
      aarch64)
        has qemu-aarch64 aarch64-linux-gnu-gcc || continue
        CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_LINKER=aarch64-linux-gnu-gcc \
          cargo build -q --locked --target aarch64-unknown-linux-gnu
        check "qemu-aarch64 -L /usr/aarch64-linux-gnu $target/aarch64-unknown-linux-gnu/debug/halfturn" ;;
      windows)
        has wine x86_64-w64-mingw32-gcc || continue
        cargo build -q --locked --release --target x86_64-pc-windows-gnu
        WINEDEBUG=-all HALFTURN_GOLDEN_WINDOWS=1 check "wine $target/x86_64-pc-windows-gnu/release/halfturn.exe" ;;
      *)
        echo "$name: not known" >&2
        exit 2 ;;
    esac
  done
done
for line in "${skipped[@]}"; do
  echo "SKIPPED $line" >&2
done
