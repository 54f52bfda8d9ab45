#!/usr/bin/env bash
# manual.sh PREFIX: every command that help lists has a man page with all its options, and no formatter
# has a complaint about any page.
set -euo pipefail
. "$(dirname "${BASH_SOURCE[0]}")/say.sh"
man=$1/share/man/man1 glassine=$1/bin/glassine

# commands COMMAND…: what help lists below it.
commands() { "$glassine" "$@" --help | sed -n '/^Commands:/,/^$/s/^  \([a-z-]*\) .*/\1/p'; }

check_page() {
    local page=$man/glassine option
    page+=$(printf -- '-%s' "$@")
    there "$page.1"
    for option in $("$glassine" "$@" --help | grep -oE '^  (-., )?--[a-z-]+' | grep -oE -- '--.*'); do
        grep -qF -- "${option//-/\\-}" "$page.1" || fail "$page.1 does not tell of $option"
    done
}

for command in $(commands); do
    check_page "$command"
    for below in $(commands "$command"); do check_page "$command" "$below"; done
done

formatter=
for page in "$man"/*.1; do
    if command -v mandoc >/dev/null; then
        formatter=mandoc
        mandoc -Tlint "$page" || fail "mandoc complains of $page"
    fi
    if command -v groff >/dev/null; then
        formatter=groff
        said=$(groff -ww -man -Tutf8 "$page" 2>&1 >/dev/null)
        [ -z "$said" ] || fail "groff complains of $page: $said"
    fi
done
[ -n "$formatter" ] || skip "neither mandoc nor groff is installed; only the content was checked"
