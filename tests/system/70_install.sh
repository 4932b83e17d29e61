#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# What `cmake --install` puts where: into an empty folder, as a package would; the unit then names programs
# that are there, and the installed programs and examples work together.
# Usage: 70_install.sh BUILD_DIR SOURCE_DIR
set -eu
build=$(cd "$1" && pwd)
source=$(cd "$2" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
fail() {
    echo "$*"
    exit 1
}
root=$work/root
prefix=$(sed -n 's/^CMAKE_INSTALL_PREFIX:[A-Z]*=//p' "$build/CMakeCache.txt")
below=$root$prefix

DESTDIR=$root cmake --install "$build" >"$work/log" 2>&1 || {
    cat "$work/log"
    fail "cmake --install failed"
}
is_file() { # MODE PATTERN
    find "$root" -type f -path "$2" -printf '%m %p\n' >"$work/found"
    test "$(wc -l <"$work/found")" -eq 1 || fail "not exactly one file: $2"
    grep -q "^$1 " "$work/found" || fail "$2 has another mode than $1: $(cat "$work/found")"
}
is_file 755 "$below/sbin/lampwardend"
is_file 755 "$below/bin/lampwarden"
is_file 755 "$below/bin/lampwarden-bench"
is_file 755 "$below/libexec/lampwarden/lampwarden-make-safe"
is_file 644 "$root*/lib/systemd/system/lampwardend.service"
is_file 644 "$root*/lib/sysusers.d/lampwarden.conf"
is_file 644 "$root*/lib/tmpfiles.d/lampwarden.conf"
is_file 644 "$root*/lib/udev/rules.d/60-lampwarden.rules"
for example in "$source"/etc/*.conf; do
    is_file 644 "$below/share/doc/lampwarden/examples/$(basename "$example")"
done
for page in lampwarden.1 lampwarden-bench.1 lampwarden.conf.5 lampwarden-json.5 lampwardend.8 lampwarden-make-safe.8; do
    is_file 644 "$below/share/man/man${page##*.}/$page"
done
is_file 644 "$below/share/bash-completion/completions/lampwarden"

# Nothing else, and nothing that an administrator may have edited.
find "$root" -type f ! -path "$below/*bin/lampwarden*" ! -path "$below/libexec/*" \
    ! -path "$below/share/doc/lampwarden/*" ! -path "$below/share/man/*" \
    ! -path "$below/share/bash-completion/*" \
    ! -path "$root*/lib/systemd/*" ! -path "$root*/lib/*.d/*" >"$work/more"
test ! -s "$work/more" || fail "installed besides: $(cat "$work/more")"
test ! -e "$root/etc" || fail "the administrator's /etc is not ours to fill"

# The unit's programs are those that were installed.
unit=$(find "$root" -name lampwardend.service)
sed -nE 's/^Exec(Start|StopPost)=[-+!@:]*([^ ]+).*/\2/p' "$unit" >"$work/programs"
test "$(wc -l <"$work/programs")" -ge 2 || fail "the unit starts too little"
while read -r program; do
    test -x "$root$program" || fail "the unit runs $program, which is not installed"
done <"$work/programs"
! grep -qF "$build" "$unit" || fail "the unit knows the build folder"

version=$(sed -n 's/^project(lampwarden VERSION \([0-9.]*\).*/\1/p' "$source/CMakeLists.txt")
for program in sbin/lampwardend bin/lampwarden bin/lampwarden-bench \
    libexec/lampwarden/lampwarden-make-safe; do
    "$below/$program" --version >"$work/out" || fail "$program --version failed"
    grep -qxF "${program##*/} $version" "$work/out" || fail "$program: $(cat "$work/out")"
done
for example in "$below"/share/doc/lampwarden/examples/*.conf; do
    "$below/bin/lampwarden" check "$example" >"$work/out" 2>&1 || {
        cat "$work/out"
        fail "$(basename "$example") is no valid configuration"
    }
done

# Another place than the configured one would leave a unit that starts nothing.
if DESTDIR=$root cmake --install "$build" --prefix /elsewhere >"$work/out" 2>&1; then
    fail "installed to a place that was not configured"
fi
grep -q "configured for $prefix" "$work/out" || fail "the refusal gives no reason"
echo "$(find "$root" -type f | wc -l) files installed below $prefix and where systemd and udev look"
