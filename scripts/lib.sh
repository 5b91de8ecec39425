# Shared by the scripts of this folder: . "$(dirname "$0")/lib.sh"
# shellcheck shell=bash
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
cd "$root"
exec </dev/null  # nothing here asks
export DEBIAN_FRONTEND=noninteractive HOME="${HOME:-/tmp}"

say() { printf '\n== %s\n' "$*"; }

# need_packages NAME...: installs those that are missing, as root or with sudo.
need_packages() {
  command -v dpkg-query >/dev/null || {
    echo "No Debian packages here; going on with what is installed. Needed: scripts/packages.txt"
    return 0
  }
  local missing=() as=() name
  for name in "$@"; do
    [ "$(dpkg-query -W -f '${db:Status-Abbrev}' "$name" 2>/dev/null | cut -c1-2)" = ii ] || missing+=("$name")
  done
  [ ${#missing[@]} -gt 0 ] || return 0
  if [ "$(id -u)" != 0 ]; then
    command -v sudo >/dev/null || {
      echo "Missing packages. As root: apt-get install --no-install-recommends ${missing[*]}" >&2
      return 3
    }
    as=(sudo)
  fi
  say "Installing ${#missing[@]} packages"
  "${as[@]}" apt-get -q -o Acquire::Retries=3 update
  "${as[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -q -y -o Acquire::Retries=3 -o Dpkg::Use-Pty=0 \
    install --no-install-recommends "${missing[@]}"
}

listed_packages() { grep -v '^#' scripts/packages.txt; }

# prepare: packages and pictures. Without the pictures everything works, on painted scenes.
prepare() {
  # shellcheck disable=SC2046
  need_packages $(listed_packages)
  say "Fetching pictures"
  scripts/fetch-assets || echo "Going on without."
}

# build PRESET [cmake --build arguments...]
build() {
  local preset=$1
  shift
  say "Building: $preset"
  mkdir -p build
  cmake --preset "$preset" >"build/configure-$preset.log" 2>&1 || {
    cat "build/configure-$preset.log"
    return 1
  }
  cmake --build --preset "$preset" "$@"
}
