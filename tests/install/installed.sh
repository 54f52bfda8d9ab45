#!/usr/bin/env bash
# installed.sh BUILD PREFIX: installs, and looks whether all is where the systems look for it
# (Filesystem Hierarchy Standard 3.0, chapter 4).
set -euo pipefail
. "$(dirname "${BASH_SOURCE[0]}")/say.sh"
build=$1 prefix=$2

rm -rf "$prefix"
cmake --install "$build" --prefix "$prefix" >/dev/null
for file in bin/glassine share/man/man1/glassine.1 share/man/man1/glassine-audit.1 \
    share/bash-completion/completions/glassine share/zsh/vendor-completions/_glassine \
    share/fish/vendor_completions.d/glassine.fish share/doc/glassine/README.md \
    share/doc/glassine/docs/findings.md share/doc/glassine/docs/LICENSE \
    include/glassine/journeys/audit.h; do
    there "$prefix/$file"
done
find "$prefix" -name '*.cpp' | grep . && fail "sources were installed"
"$prefix/bin/glassine" --version | grep -qx 'glassine [0-9.]*' || fail "the program does not start"

# It starts in less than 20 ms of processor time: the best of ten, since the machine may be busy.
python3 - "$prefix/bin/glassine" <<'END' || fail "the program takes too long to start"
import resource, subprocess, sys

def seconds():
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime

best = 1.0
for _ in range(10):
    before = seconds()
    subprocess.run([sys.argv[1], "--version"], stdout=subprocess.DEVNULL, check=True)
    best = min(best, seconds() - before)
print(f"starts in {best * 1000:.1f} ms")
sys.exit(best >= 0.020)
END
