#!/bin/sh
# Fuzzes each target for a while, on stable Rust: tests/fuzz/run.sh [SECONDS [TARGET...]]
# With the coverage that libFuzzer steers by, and no sanitizer: there is no unsafe code to watch.
# It needs a C++ compiler. What is found is left in the folder `found` under the build's own.
set -eu
cd "$(dirname "$0")"
seconds=${1:-60}
[ $# -eq 0 ] || shift
host=$(rustc -vV | sed -n 's/^host: //p')
build=${CARGO_TARGET_DIR:-$PWD/target}
mkdir -p "$build/found"
# A target of its own keeps these flags from build scripts and derives.
RUSTFLAGS="--cfg fuzzing -Ccodegen-units=1 -Cdebug-assertions -Cpasses=sancov-module \
-Cllvm-args=-sanitizer-coverage-level=4 -Cllvm-args=-sanitizer-coverage-inline-8bit-counters \
-Cllvm-args=-sanitizer-coverage-pc-table -Cllvm-args=-sanitizer-coverage-trace-compares" \
    cargo build --locked --release --bins --target "$host" --target-dir "$build"
[ $# -gt 0 ] || set -- $(ls seeds)
for target in "$@"; do
    [ -e "targets/$target.rs" ] || continue
    words=""
    [ ! -f "words/$target.dict" ] || words="-dict=words/$target.dict"
    work=$(mktemp -d)
    echo "-- $target, $seconds s"
    # shellcheck disable=SC2086
    "$build/$host/release/$target" "$work" "seeds/$target" $words -artifact_prefix="$build/found/" \
        -timeout=20 -rss_limit_mb=2048 -max_total_time="$seconds" -verbosity=0 -print_final_stats=1
    rm -rf "$work"
done
