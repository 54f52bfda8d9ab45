#!/usr/bin/env bash
# completion_fish.sh PREFIX: fish's completion offers commands, options and values where they belong.
set -euo pipefail
. "$(dirname "${BASH_SOURCE[0]}")/say.sh"
script=$1/share/fish/vendor_completions.d/glassine.fish
command -v fish >/dev/null || skip "fish is not installed"
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
mkdir -p "$scratch/home" "$scratch/drives/drive-a"
touch "$scratch/drives/studio.toml"

# offers WANTED LINE: completing the line has to offer exactly WANTED.
offers() {
    local got
    got=$(cd "$scratch/drives" && HOME=$scratch/home fish --no-config -c "source $script; complete -C '$2'" |
        cut -f 1 | sort | paste -sd ' ')
    [ "$got" = "$1" ] || fail "\"$2\" offers \"$got\" where \"$1\" was due"
}
offers audit 'glassine au'
offers '--quick --quiet' 'glassine audit --qui'
offers studio.toml 'glassine --studio s'
offers 'always auto never' 'glassine --color '
offers 'image-broken image-not-checkable' 'glassine --json closeout --accept image-'
offers 'drive-a/' 'glassine closeout --to dr'
offers '--dry-run' 'glassine closeout --to mend --dr'
offers 'drive-a/' 'glassine mend d'
