#!/usr/bin/env bash
# A sweep in shards under GNU parallel, merged at the end. To go on after a stop, run it again.
set -euo pipefail
if [ "$#" -lt 3 ]; then
    echo "usage: $0 SHARDS DIR ARGUMENTS-OF-SWEEP…   (HALFTURN names the program, if it is not on the path)" >&2
    exit 2
fi
shards=$1 dir=$2
shift 2
program=${HALFTURN:-halfturn}
mkdir -p "$dir"
seq "$shards" | parallel --quote --halt soon,fail=1 --joblog "$dir/jobs.log" \
    "$program" sweep "$@" --quiet --resume --threads 1 --shard "{}/$shards" --out "$dir/shard-{}-of-$shards.csv" >"$dir/shards.log"
"$program" merge --force "$dir/sweep.csv" "$dir"/shard-*-of-"$shards".csv
