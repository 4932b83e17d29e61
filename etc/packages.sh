#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Sourced by quickstart.sh and tests/run.sh: installs Debian packages that are missing, with as few
# questions as possible. install_packages NAME… returns 1 when some could not be had.

# What the build needs, and what it can do without (a driver is then left out, and said so).
# shellcheck disable=SC2034  # used by the scripts that source this one
build_packages="gcc cmake make ninja-build pkg-config libc6-dev libconfig-dev libsqlite3-dev libjansson-dev libsystemd-dev"
# shellcheck disable=SC2034
page_packages="libmicrohttpd-dev libjs-dygraphs"
# shellcheck disable=SC2034
driver_packages="libgpiod-dev libmodbus-dev"

have_package() {
    [ "$(dpkg-query -W -f '${db:Status-Status}' "$1" 2>/dev/null)" = installed ]
}

as_root() {
    if [ "$(id -u)" = 0 ]; then
        "$@"
    elif command -v sudo >/dev/null 2>&1; then
        sudo "$@"
    else
        echo "not root and no sudo: run this yourself as root: $*" >&2
        return 1
    fi
}

install_packages() {
    command -v dpkg-query >/dev/null 2>&1 || {
        echo "this is no Debian system: install yourself what matches $*" >&2
        return 1
    }
    missing=
    for package in "$@"; do
        have_package "$package" || missing="$missing $package"
    done
    [ -z "$missing" ] && return 0
    echo "installing:$missing"
    # A package list may be old or absent: ask for a new one only when the first try fails.
    # shellcheck disable=SC2086
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
        $missing >/dev/null 2>&1 && return 0
    as_root apt-get update -qq || return 1
    # shellcheck disable=SC2086
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
        $missing >/dev/null
}
