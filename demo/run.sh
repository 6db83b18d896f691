#!/bin/sh
# Counterfoil with the demo household, on http://localhost:8000 (PORT changes it).
# Makes .venv at the first run; the data lie in .demo-data, which may be deleted at any time.
set -eu
cd "$(dirname "$0")/.."
. ./.tools/environment.sh
install_project .
exec .venv/bin/counterfoil demo --port "${PORT:-8000}" --data .demo-data "$@"
