#!/usr/bin/env bash
# Every C++ file is as clang-format leaves it (.clang-format). `tests/tree/format.sh --fix` makes it so.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."

tool=$(command -v clang-format-14) || {
    echo "skipped: clang-format-14 is not installed"
    exit 77
}
mode=(--dry-run -Werror)
if [ "${1:-}" = --fix ]; then mode=(-i); fi
find src include tests demo -name '*.cpp' -print0 -o -name '*.h' -print0 |
    xargs -0 -P 2 -n 40 "$tool" "${mode[@]}"
