#!/usr/bin/env bash
# What a release must pass beyond .ci/run: the packed source, installed into an empty folder, does what the documents say.
#
#   tests/release.sh          packs what is committed; needs python3 and no network once the dependencies are there
#
# Shells, man and mandoc are used where they are; what is missing is said.
set -euo pipefail
cd "$(dirname "$0")/.."
target=$(realpath -m "${CARGO_TARGET_DIR:-target}")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# Upper limits, in bytes: of the crate, of the stripped program.
most_crate=$((2 * 1024 * 1024))
most_program=15000000

fail() {
  echo "FAILED $*" >&2
  exit 1
}

at_most() {
  local size
  size=$(stat -c %s "$2")
  echo "$1: $size bytes, at most $3"
  [ "$size" -le "$3" ] || fail "$1 is too large"
}

echo '== package'
version=$(sed -n 's/^version = "\(.*\)"/\1/p' Cargo.toml | head -1)
source=$work/halfturn-$version
crate=$work/halfturn-$version.tar.gz
git archive --prefix "halfturn-$version/" -o "$crate" HEAD ':!reports' ':!.ci' ':!tests/data'
at_most archive "$crate" "$most_crate"
tar -xzf "$crate" -C "$work"
for file in LICENSE-MIT LICENSE-APACHE assets/catalogue/LICENSE-CC-BY-SA-4.0.txt assets/fonts/LICENSE-DejaVu.txt README.md CHANGELOG.md; do
  [ -s "$source/$file" ] || fail "$file is not in the archive"
done

echo '== install'
CARGO_TARGET_DIR=$target cargo install --locked --offline --path "$source" --root "$work/root" --no-track
program=$work/root/bin/halfturn
strip -o "$work/stripped" "$program"
at_most 'stripped program' "$work/stripped" "$most_program"
PATH=$work/root/bin:$PATH

echo '== completions'
for shell in bash zsh fish elvish powershell; do
  halfturn completions "$shell" >"$work/completions"
  [ -s "$work/completions" ] || fail "no completions for $shell"
  if [ "$shell" = elvish ] || [ "$shell" = powershell ]; then
    echo "$shell: written, not read again"
  elif command -v "$shell" >/dev/null; then
    "$shell" -n "$work/completions" || fail "completions of $shell"
    echo "$shell: read"
  else
    echo "SKIPPED completions of $shell: it is not here" >&2
  fi
done

echo '== manual pages'
halfturn man --out "$work/man" >/dev/null
pages=("$work"/man/*.1)
[ ${#pages[@]} -ge 15 ] || fail "only ${#pages[@]} manual pages"
for page in "${pages[@]}"; do
  if command -v man >/dev/null; then
    said=$(MANWIDTH=80 man --warnings -E UTF-8 -l -Tutf8 "$page" 2>&1 >/dev/null) || fail "man $page"
    [ -z "$said" ] || fail "man $page: $said"
  fi
  if command -v mandoc >/dev/null; then
    mandoc -T lint -W error "$page" || fail "mandoc $page"
  fi
done
echo "${#pages[@]} pages"
command -v man >/dev/null || echo 'SKIPPED man: it is not here' >&2
command -v mandoc >/dev/null || echo 'SKIPPED mandoc: it is not here' >&2

echo '== commands of the documents'
python3 tests/document_commands.py "$source" "$work/documents"
echo '== all passed'
