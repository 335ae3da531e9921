#!/bin/sh
# Instructions of the main paths, counted by valgrind on the finished program: tests/bench/count.sh [PROGRAM]
# Run from the repository's root; the program is target/dist/dryfit unless another is named. On one core, so that the counts come again.
# What is counted is the difference between doing a thing seldom and often: the words it prints are in it.
set -eu
program=${1:-target/dist/dryfit}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
demo=examples/youth-club-games.toml
counted() {
    taskset -c 0 valgrind --tool=cachegrind --cache-sim=no --cachegrind-out-file=/dev/null --log-file="$work/log" "$program" "$@" >/dev/null || [ $? -le 1 ]
    sed -n 's/.*I *refs: *//p' "$work/log" | tr -d ,
}
mkdir "$work/few" "$work/many"
for nth in $(seq 2); do cp "$demo" "$work/few/$nth.toml"; done
for nth in $(seq 42); do cp "$demo" "$work/many/$nth.toml"; done
swaps() {
    for _ in $(seq "$1"); do printf 'swap supply supply/tarn-850-gold\nswap supply supply/penstock-700-platinum\n'; done >"$work/swaps"
    counted try "$demo" --script "$work/swaps" --plain
}
load=$(counted rules list)
cold=$(counted audit "$demo")
few=$(counted audit "$work/few")
many=$(counted audit "$work/many")
once=$(swaps 2)
often=$(swaps 22)
echo "load of catalogue and rules: $((load / 1000)) thousand instructions"
echo "a list never seen, read, audited and reported: $(((cold - load) / 1000)) thousand"
echo "a list seen before, read, audited and reported: $(((many - few) / 40000)) thousand"
echo "a swap at the prompt and back: $(((often - once) / 40000)) thousand each"
