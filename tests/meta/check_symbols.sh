#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# What the libraries really need: core only pure functions, and no library one that stands above it.
# Usage: check_symbols.sh BUILD_DIR SOURCE_DIR
set -eu
if ! command -v nm >/dev/null || ! command -v objdump >/dev/null; then
    echo "nm and objdump not found (Debian: binutils)"
    exit 77
fi
cd "$1"
core=daemon/core/libcore.a
base=daemon/base/libbase.a
drivers=drivers/libdrivers.a
run=daemon/run/librun.a
for archive in $core $base $drivers $run; do
    test -s "$archive" || { echo "$archive is missing: build it first"; exit 1; }
done
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
: >"$work/bad"

needs() { nm -u "$@" 2>/dev/null | awk '$1 == "U" || $1 == "w" { print $2 }' | sort -u; }
gives() { nm --defined-only "$@" 2>/dev/null | awk '$2 ~ /^[A-Z]$/ { print $3 }' | sort -u; }
forbid() { sed "s|^|$1: |" >>"$work/bad"; } # every line of stdin is a finding

# core: memory and strings (also their checked forms), libm, and what compilers put in by themselves.
memory='(mem(chr|cmp|cpy|move|set)|str(chr|cmp|cpy|cspn|len|ncmp|ncpy|nlen|pbrk|rchr|spn|str))'
libm='(acos|asin|atan|atan2|cbrt|ceil|copysign|cos|cosh|exp|exp2|expm1|fabs|floor|fma|fmax|fmin|fmod'
libm="$libm|frexp|hypot|ldexp|llround|log|log10|log1p|log2|lround|modf|nearbyint|pow|rint|round|sin"
libm="$libm|sincos|sinh|sqrt|tan|tanh|trunc)"
compiler='(__stack_chk_fail|_GLOBAL_OFFSET_TABLE_|__(asan|ubsan|tsan|sanitizer|gcov)_.*|__assert_fail)'
needs $core >"$work/core_needs"
gives $core >"$work/core_gives"
test "$(wc -l <"$work/core_gives")" -gt 20 || { echo "$core defines next to nothing"; exit 1; }
comm -23 "$work/core_needs" "$work/core_gives" |
    { grep -vxE "$memory|__${memory}_chk|$libm|$compiler" || true; } |
    forbid "core needs a function that is not pure"

# No arrow upwards: below | above.
upwards() {
    needs "$1" >"$work/needs"
    gives "$1" >"$work/own"
    shift
    gives "$@" >"$work/above"
    comm -23 "$work/needs" "$work/own" | comm -12 - "$work/above"
}
upwards $base $core $drivers $run | forbid "base needs a library above it"
upwards $drivers $core $run | forbid "drivers need a library above them"
upwards $core $base $drivers $run | forbid "core needs another library"

# No mutable statics where state hangs on a struct. Const tables lie in .rodata or .data.rel.ro.
for archive in $core $drivers; do
    objdump -t "$archive" 2>/dev/null |
        awk 'NF < 5 || $NF ~ /^(\.|__unnamed_|__gcov|__llvm|__odr_asan|___?asan|__tsan|__sanitizer)/ { next }
            $(NF - 2) ~ /^\.(data|bss|tdata|tbss)/ && $(NF - 2) !~ /^\.data\.rel\.ro/ { print $NF }' |
        forbid "$archive has a mutable static"
done

if [ -s "$work/bad" ]; then
    cat "$work/bad"
    exit 1
fi
echo "$(wc -l <"$work/core_needs") symbols needed by core, all pure"
