# What the scripts beside this one share: steps with a name, and what each of them cost.
export CARGO_TERM_COLOR=never CI=true
binary="${CARGO_TARGET_DIR:-$PWD/target}/debug/dryfit"
costs="" step="" begun=$SECONDS

# Begins a step; the one before it is over.
say() {
    [ -z "$step" ] || costs+="$(printf '%5d s  %s' $((SECONDS - begun)) "$step")"$'\n'
    step="$1" begun=$SECONDS
    printf '\n== %s\n' "$1"
}

# Ends the last step and says what each of them cost.
done_all() {
    say "all good; each step on $(nproc) cores took"
    printf '%s' "$costs"
}

# A browser and an accessibility checker, for the tests of the sheet.
browser() {
    command -v chromium >/dev/null || { apt-get update -qq; apt-get install -y -qq --no-install-recommends chromium fonts-dejavu-core; }
    npm ci --prefix tests/sheet --silent --no-audit --no-fund
}

# A reader of SARIF of another make, for the tests of fixes.
sarif_reader() {
    [ -x target/sarif-reader/bin/python ] || python3 -m venv target/sarif-reader
    target/sarif-reader/bin/pip install --quiet sarif-pydantic==0.6.2
}

# An editor with a language client of its own, for a session with the language server.
editor() {
    command -v nvim >/dev/null || { apt-get update -qq; apt-get install -y -qq --no-install-recommends neovim; }
}
