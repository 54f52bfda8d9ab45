# complete.zsh FOLDER LINE…: what each line becomes when TAB is pressed behind it, with a NUL behind each.
zmodload zsh/zpty
zpty shell zsh -f -i
zpty -w shell "PS1= ; stty -echo; fpath=($1 \$fpath); autoload -U compinit; compinit -u -D"
zpty -w shell "report() { print -r -- \"<\$BUFFER>\"; BUFFER= }; zle -N report; bindkey '^X' report"
zpty -w shell "print rea''dy"
zpty -r shell seen '*ready*'
shift
for line; do
    zpty -w -n shell "$line"$'\t\x18'
    zpty -r shell seen '*\<*\>*'
    print -rn -- "$seen"$'\0'
done
zpty -d shell
