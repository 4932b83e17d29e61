#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The unit, the user and the folders as systemd reads them; the sandbox's exposure is printed (0
# best, 10 none). systemd.exec(5): a comment behind a value is part of the value.
# Usage: 60_unit.sh BUILD_DIR SOURCE_DIR
set -eu
build=$(cd "$1" && pwd)
source=$(cd "$2" && pwd)
exposure_max=2.5
command -v systemd-analyze >/dev/null || {
    echo "systemd-analyze not found (Debian: systemd)"
    exit 77
}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
fail() {
    echo "$*"
    exit 1
}

# The programs are not installed here: another one stands in their places.
unit=$work/lampwardend.service
sed -E 's#^(Exec[A-Za-z]*=)[^ ]*/lampwarden[^ ]*#\1/bin/true#' \
    "$build/systemd/lampwardend.service" >"$unit"
! grep -n '@CMAKE' "$unit" || fail "a name was left unreplaced"
! grep -nE '^[A-Za-z]+=.*[[:space:]]#' "$unit" || fail "comments stand on lines of their own"

systemd-analyze verify --man=no "$unit" >"$work/verify" 2>&1 || {
    cat "$work/verify"
    fail "systemd-analyze verify refuses the unit"
}
! grep -F lampwardend.service "$work/verify" || fail "systemd-analyze verify has something to say"

systemd-analyze security --offline=true --no-pager "$unit" >"$work/security" 2>&1 || true
exposure=$(sed -nE 's/.*Overall exposure level[^:]*: ([0-9.]+) .*/\1/p' "$work/security")
test -n "$exposure" || {
    cat "$work/security"
    fail "no exposure level found"
}
echo "exposure $exposure (at most $exposure_max)"
awk "BEGIN { exit !($exposure <= $exposure_max) }" || {
    cat "$work/security"
    fail "the sandbox is too open"
}

# What the safety of the outputs rests on.
for line in Type=notify ProtectSystem=strict WatchdogSec=15 Restart=always StartLimitIntervalSec=0 \
    RuntimeDirectoryPreserve=yes ProcSubset=all ProtectKernelTunables=no LimitNOFILE=512; do
    grep -qx "$line" "$unit" || fail "$line is missing"
done
grep -q '^ExecStopPost=.*/lampwarden-make-safe$' "$build/systemd/lampwardend.service" ||
    fail "the stop step is missing"
for call in adjtimex chown fchownat; do
    grep '^SystemCallFilter=' "$unit" | tail -1 | grep -qw "$call" ||
        fail "$call must come last: a later ~@privileged would take it away"
done

# User and folders in an empty root.
mkdir -p "$work/root/etc"
systemd-sysusers --root="$work/root" "$source/systemd/lampwarden.sysusers" >"$work/users" 2>&1 || {
    cat "$work/users"
    fail "systemd-sysusers refuses the file"
}
grep -q '^lampwarden:' "$work/root/etc/passwd" || fail "no user lampwarden"
for group in gpio pwm iio dialout; do
    grep -qE "^$group:.*[:,]lampwarden(,|\$)" "$work/root/etc/group" || fail "not in group $group"
    grep -q "^SupplementaryGroups=.*$group" "$unit" || fail "the unit does not take group $group"
done
if test "$(id -u)" = 0; then
    systemd-tmpfiles --root="$work/root" --create "$source/systemd/lampwarden.tmpfiles" \
        >"$work/folders" 2>&1 || {
        cat "$work/folders"
        fail "systemd-tmpfiles refuses the file"
    }
    for folder in var/lib/lampwarden etc/lampwarden; do
        test -d "$work/root/$folder" || fail "no folder /$folder"
    done
fi

# The rules name the groups of the user's file.
grep -oE 'GROUP="[a-z]+"|chgrp [a-z]+' "$source/etc/60-lampwarden.rules" |
    sed -E 's/GROUP="([a-z]+)"/\1/; s/chgrp //' | sort -u | while read -r group; do
    grep -q "^g $group " "$source/systemd/lampwarden.sysusers" || fail "the rules name group $group"
done
if udevadm verify --help >/dev/null 2>&1; then
    udevadm verify "$source/etc/60-lampwarden.rules" || fail "udevadm verify refuses the rules"
fi
echo "unit, user, folders and rules fit together"
