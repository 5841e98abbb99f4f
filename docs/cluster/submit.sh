#!/usr/bin/env bash
# A sweep as a Slurm job array, merged when every shard is done. To go on after a stop, run it again.
set -euo pipefail
if [ "$#" -lt 3 ]; then
    echo "usage: $0 SHARDS DIR ARGUMENTS-OF-SWEEP…   (HALFTURN names the program, if it is not on the path)" >&2
    exit 2
fi
shards=$1 dir=$2
shift 2
here=$(cd "$(dirname "$0")" && pwd)
mkdir -p "$dir"
array=$(sbatch --parsable --array="1-$shards" --output="$dir/shard-%a.log" \
    "$here/shard.slurm" "$shards" "$dir" "$@")
merge=$(sbatch --parsable --dependency="afterok:$array" --kill-on-invalid-dep=yes \
    --output="$dir/merge.log" "$here/merge.slurm" "$shards" "$dir")
echo "array job $array, then job $merge writes $dir/sweep.csv"
