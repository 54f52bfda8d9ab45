#!/usr/bin/env bash
# consumer.sh PREFIX SCRATCH cmake|pkg-config: builds somebody else's program against the installed
# library, and lets it check a bag that an independent script wrote.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
. "$here/say.sh"
prefix=$1 scratch=$2/consumer-$3

rm -rf "$scratch"
mkdir -p "$scratch"
case $3 in
    cmake)
        cmake -S "$here/consumer" -B "$scratch" -DCMAKE_PREFIX_PATH="$prefix" >/dev/null
        cmake --build "$scratch" >/dev/null
        ;;
    pkg-config)
        pc=$(find "$prefix" -name glassine.pc)
        read -ra flags < <(PKG_CONFIG_PATH=$(dirname "$pc") pkg-config --cflags --libs glassine)
        g++ -std=c++20 "$here/consumer/consumer.cpp" -o "$scratch/consumer" "${flags[@]}"
        ;;
esac
python3 "$here/../bagit/write_bag_1_0.py" "$scratch/bag"
said=$("$scratch/consumer" "$scratch/bag")
grep -qx 'bag is whole' <<<"$said" || fail "a whole bag: $said"
printf 'x' >>"$scratch/bag/data/.keep"
said=$("$scratch/consumer" "$scratch/bag") && fail "a damaged bag passed: $said"
grep -qx 'bag is damaged' <<<"$said" || fail "a damaged bag: $said"
