#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The kernel tests by hand, against the programs of a build folder.
# Usage: sh tests/kernel/run.sh [NAME…]    (10_switch …; all when none is named; LAMPWARDEN_TEST_BUILD: the build)
set -eu
cd "$(dirname "$0")/../.."
build=${LAMPWARDEN_TEST_BUILD:-build-test}
sh tests/kernel/prepare.sh "$build" .
[ $# -gt 0 ] || set -- tests/kernel/[0-9]*.py
code=0
for name in "$@"; do
    name=$(basename "$name" .py)
    echo "== $name"
    sh tests/kernel/one.sh "tests/kernel/$name.py" "$build" . || code=$?
done
exit "$code"
