#!/usr/bin/env bash
# completion_zsh.sh PREFIX: zsh's completion offers commands, options and values where they belong.
# A shell in a pseudo-terminal (zsh/zpty) is asked for its list, as a person would with the TAB key.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
. "$here/say.sh"
folder=$(cd "$1/share/zsh/vendor-completions" && pwd)
command -v zsh >/dev/null || skip "zsh is not installed"
zsh -n "$folder/_glassine"
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
mkdir -p "$scratch/drives/drive-a"
touch "$scratch/drives/studio.toml"


# offers WANTED LINE: what the line becomes, or what is listed below it, has to hold WANTED.
wanted=() lines=()
offers() { wanted+=("$1") lines+=("$2"); }
offers 'glassine audit' 'glassine au'
offers '--quick' 'glassine audit --qui'
offers 'studio.toml' 'glassine --studio st'
offers 'never' 'glassine --color=ne'
offers 'image-not-checkable' 'glassine closeout --accept image-not'
offers 'drive-a/' 'glassine closeout --to dr'
offers '--dry-run' 'glassine closeout --to mend --dr'

mapfile -d '' -t got < <(cd "$scratch/drives" &&
    HOME=$scratch zsh -f "$here/complete.zsh" "$folder" "${lines[@]}")
for i in "${!lines[@]}"; do
    [[ ${got[i]:-} == *"${wanted[i]}"* ]] ||
        fail "\"${lines[i]}\" gave \"${got[i]:-}\" where \"${wanted[i]}\" was due"
done
