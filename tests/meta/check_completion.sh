#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# What the shell offers behind `lampwarden`, as bash asks for it: verbs, options of a verb, names out of the
# configuration, files, and nothing where only the user knows the value.
# Usage: check_completion.sh BUILD_DIR SOURCE_DIR
set -eu
build=$(cd "$1" && pwd)
source=$(cd "$2" && pwd)
command -v bash >/dev/null || {
    echo "bash not found"
    exit 77
}
test -s "$build/completion/lampwarden" || { echo "$build/completion/lampwarden is missing: build it"; exit 1; }
if command -v shellcheck >/dev/null; then
    shellcheck -s bash "$build/completion/lampwarden"
fi

cat >"$build/completion/ask.bash" <<'ASK'
# ask.bash FILE WORD…: what is offered for the last word, in one line
. "$1"
shift
COMP_WORDS=("$@")
COMP_CWORD=$(($# - 1))
_lampwarden
echo "${COMPREPLY[*]}"
ASK

bad=0
# offers WANTED WORD…
offers() {
    wanted=$1
    shift
    got=$(cd "$source/etc" && PATH=$build/bin:$PATH bash "$build/completion/ask.bash" "$build/completion/lampwarden" "$@" 2>&1)
    if [ "$got" != "$wanted" ]; then
        echo "$*: offers '$got', wanted '$wanted'"
        bad=1
    fi
}

offers "status" lampwarden sta
offers "hold" lampwarden ho
offers "--help --version" lampwarden --
offers "--json" lampwarden status --j
offers "--space" lampwarden plan --sp
offers "" lampwarden nonsense x
offers "lettuce" lampwarden day --config demo.conf --space le
offers "lettuce basil chrysanthemum" lampwarden day -c demo.conf --space ''
offers "basil" lampwarden day --config = demo.conf --space = ba
offers "" lampwarden hold lettuce 30% --for ''
offers "yesterday" lampwarden day ''
offers "demo.conf" lampwarden check de
offers "demo.conf" lampwarden rehearse --config = de
[ "$bad" = 0 ] || exit 1
echo "the shell's completion offers what the programs say"
