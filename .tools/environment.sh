# Makes the environment that demo/run.sh and tests/run.sh run in: .venv with the project installed.
# Sourced by both, from the root of the checkout. POSIX sh; says what it does, and does it once.

say() { printf '%s\n' "== $*"; }

give_up() {
    printf '%s\n' "" "$@" >&2
    exit 1
}

# as_root COMMAND...: runs it as root if that takes no password; fails otherwise.
as_root() {
    if [ "$(id -u)" -eq 0 ]; then
        "$@"
    elif command -v sudo >/dev/null 2>&1 && sudo -n true 2>/dev/null; then
        sudo -n "$@"
    else
        return 1
    fi
}

# debian_install PACKAGE...: installs Debian or Ubuntu packages, if this is such a machine and we may.
debian_install() {
    command -v apt-get >/dev/null 2>&1 || return 1
    as_root true || return 1
    say "installing $* (apt-get)"
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends "$@" >/dev/null 2>&1 && return 0
    # A new machine has no package lists, or old ones.
    as_root apt-get update >/dev/null 2>&1
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends "$@" >/dev/null
}

is_new_enough() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; }

# find_python: sets $python to the first Python 3.11 or newer ($PYTHON first).
find_python() {
    for python in ${PYTHON:-} python3 python3.14 python3.13 python3.12 python3.11; do
        if command -v "$python" >/dev/null 2>&1 && is_new_enough "$python"; then
            return 0
        fi
    done
    debian_install python3 python3-venv || true
    python=python3
    if command -v python3 >/dev/null 2>&1 && is_new_enough python3; then
        return 0
    fi
    give_up "Counterfoil needs Python 3.11 or newer, and none was found." \
        "Debian 12, Ubuntu 24.04 and later have it: apt-get install python3 python3-venv" \
        "Or name one: PYTHON=/path/to/python3.12 sh $0"
}

# make_venv: an empty .venv with pip. Debian keeps a part of venv in a package of its own.
make_venv() {
    find_python
    say "making .venv with $("$python" --version)"
    rm -rf .venv
    "$python" -m venv .venv >/dev/null 2>&1 && return 0
    rm -rf .venv
    version=$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')
    if debian_install python3-venv || debian_install "python$version-venv"; then
        "$python" -m venv .venv >/dev/null 2>&1 && return 0
        rm -rf .venv
    fi
    if command -v virtualenv >/dev/null 2>&1 && virtualenv -q -p "$python" .venv; then
        return 0
    fi
    rm -rf .venv
    # A pip from elsewhere can fill an environment that has none.
    if "$python" -m pip --version >/dev/null 2>&1 && "$python" -m venv --without-pip .venv; then
        "$python" -m pip --python .venv/bin/python install -q pip && return 0
    fi
    rm -rf .venv
    give_up "No environment could be made: this Python comes without its venv module." \
        "Debian and Ubuntu have it in a package:  sudo apt-get install python3-venv" \
        "Then run this again."
}

# install_project WANTED: installs the project and what it needs (WANTED: "." or ".[test]") into .venv,
# unless it stands there already, from the same files in the same folder.
install_project() {
    stamp=.venv/counterfoil-installed
    wanted="$1 $PWD $(cat pyproject.toml .tools/package-lock.json .tools/vendor.py | cksum)"
    if [ -x .venv/bin/python ] && [ -f web/vendor/importmap.json ] && .venv/bin/python -c '' 2>/dev/null &&
        grep -qxF -e "$wanted" "$stamp" 2>/dev/null; then
        return 0
    fi
    if ! .venv/bin/python -m pip --version >/dev/null 2>&1; then
        make_venv
    fi
    say "installing Counterfoil and the libraries it needs (once; a minute or so)"
    .venv/bin/python -m pip install -q --disable-pip-version-check -e "$1" ||
        give_up "The installation failed; the lines above say where." \
            "It needs the network once, for Python and browser libraries. Then run this again."
    # A stamp for each kind: an environment for the tests serves the demo too.
    printf '%s\n' "$wanted" >>"$stamp"
    case $1 in
    *test*) printf '%s\n' ". $PWD ${wanted#"$1 $PWD "}" >>"$stamp" ;;
    esac
}
