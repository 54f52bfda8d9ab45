#!/usr/bin/env bash
# Every source file includes what it uses of the house. Builds from nothing compile a room's sources as one
# (GLASSINE_UNITY), and would not notice.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."

compiler=$(command -v clang++-14) || {
    echo "skipped: clang++-14 is not installed"
    exit 77
}
read -ra packages < <(pkg-config --cflags libpng libraw_r tomlplusplus)
find src -name '*.cpp' -print0 | xargs -0 -P 2 -n 8 "$compiler" -fsyntax-only -std=c++20 -Wall -Wextra -Werror \
    -Iinclude -Isrc -DFMT_SHARED -DGLASSINE_VERSION='"0"' "${packages[@]}"
