#!/bin/sh
# Instructions of the main paths, by cachegrind: tests/bench/count.sh BENCH, where BENCH is what
# `cargo bench --no-run --bench ratios` built. Run from the repository's root.
set -eu
bench=$1
counted() {
    valgrind --tool=cachegrind --cache-sim=no --cachegrind-out-file=/dev/null "$bench" --bench "path=$1,$2" 2>&1 | sed -n 's/.*I *refs: *//p' | tr -d ,
}
for path in "load 1 2" "cold 1 3" "warm 10 60" "briefs 10 60" "swap 10 60"; do
    set -- $path
    few=$(counted "$1" "$2")
    many=$(counted "$1" "$3")
    echo "$1: $(((many - few) / ($3 - $2))) instructions"
done
