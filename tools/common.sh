# Sourced by the scripts here: go to the top of the tree; let one clone use what another has compiled.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
export CCACHE_BASEDIR=$PWD CCACHE_NOHASHDIR=1
