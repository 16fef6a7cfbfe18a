#!/bin/sh
# compare.sh NATIVE_PROBE NODE WASM_PROBE: both must print the same, and print something.
set -eu
native=$("$1")
wasm=$("$2" "$3")
printf '%s\n' "$native"
[ -n "$native" ] || { echo "the native probe printed nothing" >&2; exit 1; }
if [ "$native" != "$wasm" ]; then
  printf 'WebAssembly differs:\n%s\n' "$wasm" >&2
  exit 1
fi
