# SPDX-License-Identifier: Apache-2.0
# Prints C files as "path:line:code" with comments removed and the contents of strings emptied, so that a
# search for a call does not find words in prose.
FNR == 1 { in_comment = 0 }
{
    out = ""
    quote = ""
    length_of_line = length($0)
    for (i = 1; i <= length_of_line; i++) {
        one = substr($0, i, 1)
        two = substr($0, i, 2)
        if (in_comment) {
            if (two == "*/") { in_comment = 0; i++ }
        } else if (quote != "") {
            if (one == "\\") { i++ }
            else if (one == quote) { quote = ""; out = out one }
        } else if (two == "/*") {
            in_comment = 1; i++
        } else if (two == "//") {
            break
        } else {
            if (one == "\"" || one == "'") { quote = one }
            out = out one
        }
    }
    if (out ~ /[^ \t]/) { print FILENAME ":" FNR ":" out }
}
