# What the tests of an installation share.
fail() {
    printf 'failed: %s\n' "$*" >&2
    exit 1
}
skip() {
    printf 'SKIPPED: %s\n' "$*"
    exit 0
}
there() { [ -e "$1" ] || fail "$1 is not there"; }
