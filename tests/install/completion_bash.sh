#!/usr/bin/env bash
# completion_bash.sh PREFIX: bash's completion offers commands, options and values where they belong.
set -euo pipefail
. "$(dirname "${BASH_SOURCE[0]}")/say.sh"
script=$1/share/bash-completion/completions/glassine
bash -n "$script"
. "$script"
complete -p glassine | grep -qF -- '-F _glassine' || fail "bash does not know the completion"

scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
cd "$scratch"
mkdir "drive a" drive-b
touch studio.toml

# offers WANTED WORD…: completing the last word has to offer exactly WANTED (in any order).
offers() {
    local wanted=$1 got
    shift
    COMP_WORDS=("$@")
    COMP_CWORD=$(($# - 1))
    _glassine
    got=$(printf '%s\n' "${COMPREPLY[@]}" | sort | paste -sd ' ')
    [ "$got" = "$wanted" ] || fail "\"$*\" offers \"$got\" where \"$wanted\" was due"
}
offers audit glassine au
offers '--quick --quiet' glassine audit --qui
offers studio.toml glassine --studio s
offers 'always auto' glassine --color = a
offers 'always auto never' glassine --color ''
offers 'image-broken image-not-checkable' glassine --json closeout --accept image-
offers 'drive a drive-b' glassine closeout --to dr
offers '--dry-run' glassine closeout --to mend --dr
offers 'drive a drive-b' glassine mend d
offers '' glassine closeout --about ''
