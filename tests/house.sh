#!/bin/sh
# The size of the house: lines of code by area, circles between areas, where Rust names a kind of
# part, test programs and public names. Run from the repository's root: tests/house.sh [--places]
#
# Lines of code are neither blank nor a comment, as the formatter leaves them (100 columns); those
# after `#[cfg(test)]` are counted apart. Two areas are in a circle when each uses the other, through
# others too. With `--places`, the lines that name a kind and those that lead from area to area are
# shown. Public names are the items in the documentation of the engine, without the application.
set -eu

kinds=$(ls catalogue/kinds | sed -n 's,\.toml$,,p' | grep -vx every | tr '\n' ' ')

find src -name '*.rs' | sort | xargs awk -v kinds="$kinds" -v places="${1:-}" '
function area(path,   bits, n) {
    n = split(path, bits, "/")
    if (n > 2 && bits[2] != "app") return bits[2]
    if (n > 3) return "app/" bits[3]
    sub(/\.rs$/, "", bits[n])
    return n > 2 ? "app/" bits[3] : bits[2]
}
# The area that a path such as `crate::app::report::style` is in.
function target(path,   bits) {
    split(path, bits, "::")
    if (bits[2] ~ /^(Kit|Layers|Audit)$/) return "kit"
    if (bits[2] == "Build") return "build"
    if (bits[2] == "Finding") return "audit"
    return bits[2] == "app" ? "app/" bits[3] : bits[2]
}
BEGIN { count = split(kinds, kind, " ") }
FNR == 1 { here = area(FILENAME); files[here]++; testing = FILENAME ~ /\/tests\.rs$/ }
/^[ \t]*#\[cfg\(test\)\]/ { testing = 1 }
/^[ \t]*$/ || /^[ \t]*\/\// { next }
testing { tests[here]++; next }
{ lines[here]++ }
{
    for (at = 1; at <= count; at++) {
        if (index($0, "\"" kind[at] "\"") || index($0, "\"" kind[at] "/")) {
            named[here]++
            if (places == "--places") printf "%s:%d: %s\n", FILENAME, FNR, $0
            break
        }
    }
    rest = $0
    while (match(rest, /crate::[A-Za-z_]+(::[a-z_]+)?/)) {
        to = target(substr(rest, RSTART, RLENGTH))
        rest = substr(rest, RSTART + RLENGTH)
        if (to == here) continue
        used[here, to]++
        if (places == "--places") print here " -> " to
    }
}
END {
    for (one in files) for (two in files) if ((one, two) in used) reach[one, two] = 1
    for (via in files) for (one in files) if ((one, via) in reach)
        for (two in files) if ((via, two) in reach) reach[one, two] = 1
    for (one in files) {
        circle = ""
        for (two in files)
            if (one != two && ((one, two) in reach) && ((two, one) in reach)) circle = circle " " two
        half = one ~ /^(app|main)/ ? "application" : "engine"
        printf "row\t%s\t%s\t%d\t%d\t%d\t%d\t%s\n",
            half, one, files[one], lines[one], tests[one], named[one], circle == "" ? "" : "yes"
    }
}
' | sort | awk -F '\t' '
function total() {
    if (half != "") printf "| **%s** | %d | %d | %d | %d | %d |\n", half, f, l, t, k, c
    f = l = t = k = c = 0
}
$1 != "row" { print; next }
!head++ {
    print "| area | files | lines of code | of its tests | lines that name a kind | in a circle |"
    print "|---|---|---|---|---|---|"
}
$2 != half { total(); half = $2 }
{
    printf "| %s | %d | %d | %d | %d | %s |\n", $3, $4, $5, $6, $7, $8
    f += $4; l += $5; t += $6; k += $7; c += ($8 == "yes")
    all += $5
}
END { total(); printf "| **all of src** | | %d | | | |\n", all }'

echo
echo "test programs: $(grep -c '^\[\[test\]\]' Cargo.toml)"
cargo doc --quiet --lib --no-deps --no-default-features
page=${CARGO_TARGET_DIR:-target}/doc/dryfit/all.html
echo "public names of the engine: $(grep -o '<li><a href="[^"]*"' "$page" | sort -u | wc -l)"
