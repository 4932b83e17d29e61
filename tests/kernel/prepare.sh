#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Everything that the kernel tests need: Debian's kernel in a cache folder, the modules that it lacks, and the
# image with the programs of this build in BUILD/kernel. Exit 77 with the reason when this machine cannot have them.
# Usage: prepare.sh BUILD SOURCE
set -eu
here=$(cd "$(dirname "$0")" && pwd)
build=$(cd "$1" && pwd)
cache=${LAMPWARDEN_KERNEL_CACHE:-${XDG_CACHE_HOME:-$HOME/.cache}/lampwarden-kernel}

mkdir -p "$build/kernel"
rm -f "$build/kernel/skip"
skip() {
    echo "$*" | tee "$build/kernel/skip"
    exit 77
}
[ "$(uname -m)" = x86_64 ] || skip "the kernel tests emulate an x86_64 machine with Debian's amd64 kernel"
PATH=$PATH:/usr/sbin:/sbin
for tool in qemu-system-x86_64:qemu-system-x86 busybox:busybox-static cpio:cpio modprobe:kmod mkfs.ext4:e2fsprogs \
    i2cget:i2c-tools gpioget:gpiod sqlite3:sqlite3 python3:python3 apt-get:apt; do
    command -v "${tool%%:*}" >/dev/null || skip "${tool%%:*} not found (Debian: ${tool#*:})"
done
ldd "$(command -v busybox)" >/dev/null 2>&1 && skip "busybox is not the static one (Debian: busybox-static)"
for header in libelf.h openssl/opensslv.h; do
    echo "#include <$header>" | gcc -E - >/dev/null 2>&1 || skip "$header not found (Debian: libelf-dev libssl-dev)"
done

mkdir -p "$cache"
exec 9>"$cache/lock"
flock 9
sh "$here/fetch_kernel.sh" "$cache" >"$build/kernel/fetch.log" 2>&1 || {
    # An older kernel in the cache serves as well.
    [ -f "$cache/release" ] || skip "no kernel: $(tail -n 1 "$build/kernel/fetch.log")"
}
sh "$here/build_modules.sh" "$cache"
for program in agent chips lampwatch clocksync; do
    gcc -O2 -Wall -Wextra -Werror -static -pthread -o "$build/kernel/$program" "$here/guest/$program.c"
done
# Once more without sanitizers: under emulation twice as fast, for what needs many starts or long days. A warning is
# for another test to complain of.
release=$build/release
sh "$2/tests/support/release_build.sh" "$build" "$2" >"$build/kernel/release.log" 2>&1 || {
    release=$build/kernel/warned
    cmake -S "$(cd "$2" && pwd)" -B "$release" -DCMAKE_BUILD_TYPE=Release -DCMAKE_INSTALL_PREFIX=/usr -DLAMPWARDEN_TESTS=OFF
    cmake --build "$release" --parallel 2
} >"$build/kernel/warned.log" 2>&1 || { cat "$build/kernel/warned.log"; exit 1; }
ln -sfn "$release" "$build/kernel/release"
for image in image:$build plain:$release; do
    bin=${image#*:}/bin
    sh "$here/build_image.sh" "$cache" "$build/kernel/${image%%:*}.cpio" "$build/kernel/agent" "$build/kernel/chips" \
        "$build/kernel/lampwatch" "$build/kernel/clocksync" "$bin/lampwardend" "$bin/lampwarden" "$bin/lampwarden-make-safe" "$bin/lampwarden-bench" \
        "$(command -v i2cget)" "$(command -v i2cset)" "$(command -v gpioget)" \
        "$(command -v gpioset)" "$(command -v gpioinfo)" "$(command -v sqlite3)"
done
echo "kernel $(cat "$cache/release"), image $(($(stat -c %s "$build/kernel/image.cpio") / 1024)) KiB"
