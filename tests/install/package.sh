#!/usr/bin/env bash
# package.sh BUILD SCRATCH: makes the Debian packages, unpacks them into a root of their own, and runs the
# program from there (Debian Policy 4.6: §5.6 control fields, §12.1 manual pages).
set -euo pipefail
. "$(dirname "${BASH_SOURCE[0]}")/say.sh"
build=$1 scratch=$2/packages
for tool in dpkg-deb dpkg-shlibdeps; do
    command -v "$tool" >/dev/null || skip "$tool is not installed (package dpkg-dev)"
done

rm -rf "$scratch"
mkdir -p "$scratch"
(cd "$build" && cpack -G DEB -B "$scratch" >"$scratch/log" 2>&1) || fail "cpack: $(cat "$scratch/log")"
program=$(echo "$scratch"/glassine_*.deb) library=$(echo "$scratch"/libglassine-dev_*.deb)
there "$program"
there "$library"
field() { dpkg-deb --field "$1" "$2"; }
[ "$(field "$program" Package)" = glassine ] || fail "the package's name"
[ "$(field "$library" Package)" = libglassine-dev ] || fail "the library package's name"
field "$program" Depends | grep -q 'libexiv2' || fail "the program's libraries are not among Depends"
field "$library" Depends | grep -q 'libexiv2-dev' || fail "the library's are not among Depends"

root=$scratch/root
dpkg-deb --extract "$program" "$root"
dpkg-deb --extract "$library" "$root"
there "$root/usr/share/man/man1/glassine-closeout.1"
there "$root/usr/share/doc/glassine/docs/LICENSE"
there "$(find "$root/usr/lib" -name libglassine.a)"
"$root/usr/bin/glassine" --version | grep -q '^glassine ' || fail "the packaged program does not start"
