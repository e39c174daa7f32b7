# shellcheck shell=bash
# Sourced by the other scripts: where things are, how to speak, how to stop.
set -euo pipefail

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
# shellcheck disable=SC2034 # used by those that source this
# setup keeps here how this machine builds for WebAssembly: "rustup" or "debian".
route_file=$root/target/wasm-route
tools=$root/target/tools
export PATH=$tools/bin:$PATH

say() { printf 'barewash: %s\n' "$*" >&2; }
fail() {
  say "$@"
  exit 1
}

# The version of a package in Cargo.lock.
locked_version() {
  awk -v name="\"$1\"" '$1 == "name" { found = ($3 == name) }
    found && $1 == "version" { gsub(/"/, "", $3); print $3; exit }' "$root/Cargo.lock"
}

# Two scripts started together must not write the same files: the second waits for the first.
one_at_a_time() {
  mkdir -p "$root/target"
  if command -v flock >/dev/null; then
    exec 9>"$root/target/$1.lock"
    flock 9
  fi
}

debian_llvm() { /usr/bin/rustc -vV | sed -n 's/^LLVM version: \([0-9]*\).*/\1/p'; }

# A linker to go with Debian's compiler: the one that rustup's toolchain carries, else Debian's own of the same LLVM.
wasm_linker() {
  local candidate
  for candidate in "$(rustc --print sysroot)"/lib/rustlib/*/bin/rust-lld "/usr/lib/llvm-$(debian_llvm)/bin/wasm-ld"; do
    if [ -x "$candidate" ]; then
      printf '%s\n' "$candidate"
      return
    fi
  done
  return 1
}

# Sums of files, wherever the tool goes by which name.
sums() { if command -v sha256sum >/dev/null; then sha256sum "$@"; else shasum -a 256 "$@"; fi; }

# The browser for tests and timings: what the variable CHROMIUM names, else the one on the path.
find_chromium() {
  if [ -n "${CHROMIUM:-}" ]; then
    printf '%s\n' "$CHROMIUM"
  else
    command -v chromium || command -v chromium-browser
  fi
}
