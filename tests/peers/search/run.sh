#!/bin/sh
# Plans beside a constraint solver and a search by hand, over catalogues of 20, 300 and 3,000 parts a kind, in one run. From the repository's root:
#   tests/peers/search/run.sh [SEED]
# Needs python3 with venv and a network for the solver's package, or PYTHON set to one that has it.
set -eu
seed=${1:-1}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
if [ -z "${PYTHON:-}" ]; then
    python3 -m venv "$work/venv"
    "$work/venv/bin/pip" install --quiet ortools==9.14.6206
    PYTHON="$work/venv/bin/python"
fi
rustc -O -o "$work/by_hand" tests/peers/search/by_hand.rs
for parts in 20 300 3000; do
    python3 tests/peers/search/make.py "$work/$parts" "$parts" "$seed"
    echo "$parts parts a kind: question, optimum, whether proven, ms before, ms of the search"
    echo "solver:"
    "$PYTHON" tests/peers/search/cp.py "$work/$parts" 300
    echo "by hand:"
    "$work/by_hand" "$work/$parts"
    echo "dryfit:"
    cargo bench --quiet --bench search -- "$work/$parts"
done
