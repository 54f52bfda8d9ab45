#!/usr/bin/env bash
# tests/tree/tidy.sh ROOM: clang-tidy (.clang-tidy) over src/ROOM. Not with the flags of a build, and all of
# a room's sources as one, since most of the time goes into reading headers.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."

tool=$(command -v clang-tidy-14) || {
    echo "skipped: clang-tidy-14 is not installed"
    exit 77
}
read -ra packages < <(pkg-config --cflags libpng libraw_r tomlplusplus)
flags=(-std=c++20 -I. -Iinclude -Isrc -DFMT_SHARED -DGLASSINE_VERSION='"0"' "${packages[@]}")
together=$(mktemp --suffix=.cpp)
trap 'rm -f "$together"' EXIT
for source in "src/$1"/*.cpp; do
    printf '#include "%s"  // NOLINT(bugprone-suspicious-include)\n' "$source"
done >"$together"
"$tool" --quiet --config-file=.clang-tidy "$together" -- "${flags[@]}"
