#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Runs one kernel test, or says why there is no machine for it.
# Usage: one.sh TEST.py BUILD SOURCE
set -eu
if [ -s "$2/kernel/skip" ]; then
    cat "$2/kernel/skip"
    exit 77
fi
exec python3 "$1" "$2" "$3"
