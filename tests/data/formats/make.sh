#!/bin/sh
# Makes a folder of samples, but for what is written by hand: make.sh PROGRAM FOLDER. See README.md.
set -eu
program=$(realpath "$1")
project=$PWD
mkdir -p "$2/rigs" "$2/advice" "$2/sweep" "$2/json"
cd "$2"

# 1 is bad news, not a failure.
run() { "$program" "$@" --quiet > /dev/null || [ $? = 1 ]; }

run init start
mv start/rig.toml rigs/starter.toml
cp "$project/assets/demo-log.csv" log.csv
for rig in rigs/*.toml; do
    run advise "$rig" targets.csv --trials 200 --out report
    {
        sed -n 's/^rig_digest = "\(.*\)"/\1/p' report/advice.toml
        sed '1,/^\[rig\]/d; s/^"\([^"]*\)" = /\1 = /' report/advice.toml
    } > "${rig%.toml}.keys"
done

(
    cd advice
    cp ../rigs/starter.toml rig.toml
    cp ../start/targets.csv targets.csv
    run advise rig.toml targets.csv --trials 4000 --out report --write=rig.advised.toml --json ../json/advise.json
    mv report/advice.toml .
    rm -r report
    run advise --check advice.toml --json ../json/advise-check.json
)
run advise advice/rig.toml targets.csv --trials 300 --method auto --uncertain log.csv --draws 20 --out report --json json/advise--uncertain.json

(
    cd sweep
    printf '%s\n' sweep --vary target=-1:1:5 --vary loop.tolerance_deg=0.2:0.4:2 --trials 50 --rules half-circle,fold-once --quiet > arguments
    xargs -d '\n' "$program" --json ../json/sweep.json < arguments > /dev/null
    head -c 3000 halfturn-sweep.csv > part.csv
    rm halfturn-sweep.csv
    for n in 1 2; do
        run sweep --vary target=-1:1:3 --trials 50 --rules half-circle,fold-once --shard $n/2 --out $n-of-2.csv
    done
    run merge merged.csv 1-of-2.csv 2-of-2.csv --json ../json/sweep--merged.json
    rm merged.csv
)

# By a path that says nothing of the machine.
cp "$project/examples/controllers/wrong_band.py" .
run judge --scenarios 400 --out kept --json json/judge.json -- python3 wrong_band.py
rm wrong_band.py
mv kept/regressions.json scenarios.json
run vectors --out vectors
mv vectors/wrap-vectors.sha256 .

run batch --target 229 --trials 500 --json json/batch.json
run batch --target 229 --trials 500 --until 0.1 --json json/batch--until.json
run batch --target 90 --method exact --json json/batch--exact.json
run trace --target 0 --hunting --json json/trace.json
run fit log.csv --json json/fit.json
run fit --plan --json json/fit-plan.json
run sky panels advice/rig.toml --center 100,20 --grid 2x2 --frame-deg 2x1 --position-angle 35 --json json/sky-panels.json
run sky night "$project/examples/night/rig.toml" "$project/examples/night/targets.csv" --site 48,11 --date 2026-10-14 --trials 30 --rules fold-once --json json/sky-night.json
run sky field-rotation --object 'M 31' --site 48,11 --date 2026-10-14 --trials 100 --json json/sky-field-rotation.json
rm -r start report kept vectors
