#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Writes the man pages from what the programs say about themselves, so that the two cannot differ: --help of
# each program and verb, for the configuration the documented example that the daemon prints, and fields.txt.
# Usage: man.sh PROGRAM_FOLDER OUTPUT_FOLDER VERSION
# SOURCE_DATE_EPOCH: the date on the pages, in place of today.
set -eu
source=$(dirname "$0")
programs=$1
output=$2
version=$3
date=$(LC_ALL=C date -u -d "@${SOURCE_DATE_EPOCH:-$(date +%s)}" '+%B %-d, %Y')
mkdir -p "$output"

# escape: no escapes of roff's, no requests, and dashes that can be copied. text: the same for words that are
# filled, every sentence on a line of its own.
functions='
function escape(line) {
    gsub(/\\/, "\\e", line)
    gsub(/-/, "\\-", line)
    return line ~ /^[.'"'"']/ ? "\\&" line : line
}
function text(line,    at) {
    while ((at = match(line, /[.?!] +/)) > 0) {
        print escape(substr(line, 1, at))
        line = substr(line, at + RLENGTH)
    }
    print escape(line)
}
function close_block() {
    if (block) print ".Ed"
    block = 0
}'

# head_of_page NAME SECTION
head_of_page() {
    printf '.\\" -*- coding: utf-8 -*-\n.\\" SPDX-License-Identifier: Apache-2.0\n'
    printf '.Dd %s\n.Dt %s %s\n.Os Lampwarden %s\n.Sh NAME\n.Nm %s\n' "$date" \
        "$(printf '%s\n' "$1" | tr '[:lower:]' '[:upper:]')" "$2" "$version" "$1"
}

# The one line on what a program is for: behind its name, or the first sentence of its help.
summary() {
    awk -v name="$1" '
        NR == 1 && index($0, name " - ") == 1 { print substr($0, length(name) + 4); exit }
        NR > 1 && NF { sub(/\.$/, ""); print tolower(substr($0, 1, 1)) substr($0, 2); exit }'
}

usage() {
    sed -nE "s/^[Uu]sage: $1( |\$)//p"
}

# The rest of a help: paragraphs are filled, what is indented stays as it is, exit codes are a section.
body() {
    awk -v name="$1" -v level="$2" "$functions"'
        BEGIN { fresh = 1 }
        /^[Uu]sage: / || index($0, name " - ") == 1 { next }
        !NF { close_block(); ended = 1; next }
        /^ / {
            if (!block) print ".Bd -literal" (ended ? "" : " -compact")
            block = 1; ended = fresh = 0
            print escape($0)
            next
        }
        level == "page" && /^[Ee]xit (codes|status): / {
            sub(/^[^:]*: /, "")
            status = $0
            next
        }
        {
            close_block()
            if (ended && !fresh) print ".Pp"
            ended = fresh = 0
            text($0)
        }
        END {
            close_block()
            if (status) print ".Sh EXIT STATUS"
            if (status) text(status)
        }'
}

# VERB…
verbs() {
    echo ".Sh VERBS"
    for verb; do
        verb_help=$("$programs/lampwarden" "$verb" --help)
        printf '.Ss %s\n.Dl lampwarden %s\n.Pp\n' "$verb" \
            "$(printf '%s\n' "$verb_help" | usage lampwarden)"
        printf '%s\n' "$verb_help" | body lampwarden verb
    done
}

cautions() {
    cat <<'CAUTIONS'
.Sh CAUTIONS
Mains wiring is a licensed electrician's work; local codes and the makers' instructions come first.
An interrupted 0\-10 V line is full light: every lamp needs a switch that opens without power, and a
thermal cut\-out that needs no program.
CAUTIONS
}

# Files come before the exit status, by custom.
with_files() {
    if [ "$1" = lampwardend ]; then
        FILES=$(files) awk '/^\.Sh EXIT STATUS/ { print ENVIRON["FILES"] } { print }'
    else
        cat
    fi
}

files() {
    cat <<'FILES'
.Sh FILES
.Bl -tag -width Ds
.It Pa /etc/lampwarden/lampwarden.conf
the configuration
.It Pa /run/lampwarden/control
the control socket
.It Pa /run/lampwarden/safe\-list , /var/lib/lampwarden/safe\-list
the outputs and their safe values, written at each start for
.Xr lampwarden-make-safe 8
.It Pa /var/lib/lampwarden/journal.db
the journal, unless configured elsewhere
.El
FILES
}

# program_page NAME SECTION SEE-ALSO…
program_page() {
    name=$1
    section=$2
    shift 2
    help=$("$programs/$name" --help)
    {
        head_of_page "$name" "$section"
        printf '.Nd %s\n.Sh SYNOPSIS\n.Nm\n%s\n.Sh DESCRIPTION\n' \
            "$(printf '%s\n' "$help" | summary "$name")" "$(printf '%s\n' "$help" | usage "$name")"
        printf '%s\n' "$help" | body "$name" page | with_files "$name"
        case $name in
        lampwarden)
            # shellcheck disable=SC2046  # one word a verb
            verbs $(printf '%s\n' "$help" |
                awk '/^verbs:/ { on = 1; next } on && !NF { exit } on { print $1 }')
            ;;
        lampwardend) cautions ;;
        esac
        see_also "$@"
    } >"$output/$name.$section"
}

# see_also NAME:SECTION…
see_also() {
    echo ".Sh SEE ALSO"
    for other; do
        printf '%s %s\n' "${other%:*}" "${other#*:}"
    done | sed -e 's/^/.Xr /' -e '$!s/$/ ,/'
}

# The example's head is text, its parts become subsections with their lines as they are.
configuration_page() {
    document=$("$programs/lampwardend" --document)
    {
        head_of_page lampwarden.conf 5
        printf '.Nd configuration of lampwardend\n.Sh DESCRIPTION\n'
        printf '%s\n' "$document" | awk "$functions"'
            /^# SPDX/ { next }
            /^# -----/ {
                close_block()
                blank = 0
                if (!parts++) print ".Sh KEYS"
                heading = ""
                pending = 1
                next
            }
            !parts {
                sub(/^# ?/, "")
                if (!NF) { ended = 1; next }
                if (/^ /) { print ".Dl " escape(substr($0, 4)); next }
                if (ended) print ".Pp"
                ended = 0
                text($0)
                next
            }
            pending && /^#/ && !/^# Another driver/ { heading = heading $0 "\n"; next }
            pending {
                title = $1
                if (split($0, quoted, "\"") > 1 && /^# Another driver/) title = "Driver " quoted[2]
                print ".Ss " escape(title) "\n.Bd -literal"
                block = 1
                pending = 0
                n = split(heading, lines, "\n")
                for (i = 1; i < n; i++) print escape(lines[i])
            }
            !NF { blank = 1; next }
            {
                if (blank) print ""
                blank = 0
                print escape($0)
            }
            END { close_block() }'
        printf '.Sh FILES\n.Bl -tag -width Ds\n.It Pa /etc/lampwarden/lampwarden.conf\n'
        printf 'what the daemon reads unless told otherwise\n.El\n'
        see_also lampwarden:1 lampwardend:8
    } >"$output/lampwarden.conf.5"
}

# What --json writes, from fields.txt: a part for each verb, its fields as a list.
fields_page() {
    {
        head_of_page lampwarden-json 5
        printf '.Nd what lampwarden writes for programs\n.Sh DESCRIPTION\n'
        cat <<'FIELDS'
With
.Fl \-json
a verb of
.Xr lampwarden 1
writes one JSON object, or one a line where it tells of several spaces, days or events.
Units stand in the names; money is in the configuration\(aqs currency, moments are as
2026\-11\-02T06:00:00+01:00, and what is not known is null, never 0.
[] stands for each element of a list, a word in capitals for a key that is a name.
Fields are added; those that stand here keep their name and meaning.
.Sh FIELDS
FIELDS
        awk "$functions"'
            /^@ / {
                if (parts++) print ".El"
                sub(/^@ /, "")
                gsub(/ /, ", ")
                print ".Ss " escape($0)
                print ".Bl -tag -width Ds -compact"
                next
            }
            parts && (at = index($0, ": ")) {
                print ".It Li " escape(substr($0, 1, at - 1))
                print escape(substr($0, at + 2))
            }
            END { print ".El" }' "$source/fields.txt"
        see_also lampwarden:1
    } >"$output/lampwarden-json.5"
}

program_page lampwarden 1 lampwarden-json:5 lampwarden.conf:5 lampwardend:8
program_page lampwarden-bench 1 lampwarden:1 lampwardend:8
program_page lampwardend 8 lampwarden:1 lampwarden.conf:5 lampwarden-make-safe:8
program_page lampwarden-make-safe 8 lampwardend:8
configuration_page
fields_page
