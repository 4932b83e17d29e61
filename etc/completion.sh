#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Writes the bash completion of lampwarden from what its verbs say about themselves, so that the two cannot
# differ: verbs and options are written down here, names of spaces come from the configuration when it is used.
# Usage: completion.sh PROGRAM_FOLDER OUTPUT
set -eu
program=$1/lampwarden
output=$2

verbs=$("$program" --help | awk '/^verbs:/ { on = 1; next } on && !NF { exit } on { print $1 }')

# Every option that begins a line of the help, with '=' behind those that take a value.
options_of() {
    "$program" "$1" --help | awk '
        /^ +(-[a-z], )?--[a-z]/ {
            line = $0
            sub(/^ +(-[a-z], )?/, "", line)
            option = line
            sub(/[ ,].*/, "", option)
            rest = substr(line, length(option) + 1)
            print option (rest ~ /^ [^ ]/ ? "=" : "")
        }
        END { print "--help" }' | sort -u | tr '\n' ' ' | sed 's/ $//'
}

{
    cat <<'HEAD'
# bash completion for lampwarden                                    -*- shell-script -*-
# SPDX-License-Identifier: Apache-2.0

# The part of the configuration's list $1 that is names: spaces, sensors, buses, outputs.
_lampwarden_names() {
    lampwarden check --print "${_lampwarden_config:-/etc/lampwarden/lampwarden.conf}" 2>/dev/null |
        awk -v list="$1" '
            $0 ~ "^" list " = " { on = 1; next }
            on && /^[)a-z]/ { exit }
            on && /^    name = "/ { split($0, quoted, "\""); print quoted[2] }'
}

_lampwarden_options() {
    case $1 in
HEAD
    for verb in $verbs; do
        printf "    %s) echo '%s' ;;\n" "$verb" "$(options_of "$verb")"
    done
    printf "    *) echo '--help --version' ;;\n    esac\n}\n\n_lampwarden_verbs='%s'\n" "$(echo "$verbs" | tr '\n' ' ' | sed 's/ $//')"
    cat <<'TAIL'

_lampwarden() {
    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]}
    local verb='' words='' option i _lampwarden_config=''
    COMPREPLY=()
    if [ "$word" = = ]; then
        word=''
    elif [ "$before" = = ] && [ "$COMP_CWORD" -gt 1 ]; then
        before=${COMP_WORDS[COMP_CWORD - 2]}
    fi
    for ((i = 1; i < COMP_CWORD; i++)); do
        case ${COMP_WORDS[i]} in
        -c | --config)
            _lampwarden_config=${COMP_WORDS[i + 1]}
            [ "$_lampwarden_config" != = ] || _lampwarden_config=${COMP_WORDS[i + 2]}
            ;;
        -*) ;;
        *) [ -n "$verb" ] || verb=${COMP_WORDS[i]} ;;
        esac
    done
    if [ -z "$verb" ]; then
        words="$_lampwarden_verbs --help --version"
        # shellcheck disable=SC2207  # no word here holds a space
        COMPREPLY=($(compgen -W "$words" -- "$word"))
        return
    fi
    case $before in
    --space | -s) words=$(_lampwarden_names spaces) ;;
    --scan) words=$(_lampwarden_names buses) ;;
    --live | --from | --to | --for | --days | --step | --seed) return ;;
    --config | -c | --socket | --journal | --daylight | --faults | --map | --output | --plot | --html)
        compopt -o filenames 2>/dev/null
        # shellcheck disable=SC2207
        COMPREPLY=($(compgen -f -- "$word"))
        return
        ;;
    *)
        for option in $(_lampwarden_options "$verb"); do
            if [ "$option" = "$before=" ]; then
                return # a value that only the user knows
            fi
        done
        ;;
    esac
    if [ -z "$words" ] && [[ $word == -* ]]; then
        words=$(_lampwarden_options "$verb" | tr -d =)
    elif [ -z "$words" ]; then
        case $verb in
        hold | resume | gain | sweep | sheet) words=$(_lampwarden_names spaces) ;;
        try) words=$(_lampwarden_names outputs) ;;
        sense) words=$(_lampwarden_names sensors) ;;
        day) words=yesterday ;;
        check | survey)
            compopt -o filenames 2>/dev/null
            # shellcheck disable=SC2207
            COMPREPLY=($(compgen -f -- "$word"))
            return
            ;;
        esac
    fi
    # shellcheck disable=SC2207
    COMPREPLY=($(compgen -W "$words" -- "$word"))
}

complete -F _lampwarden lampwarden
TAIL
} >"$output.new"
mv "$output.new" "$output"
