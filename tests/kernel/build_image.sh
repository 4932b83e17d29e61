#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The machine's first file system: static busybox, modules, the agent, and the programs named with the
# libraries that they need. Not compressed: under emulation unpacking costs more than it saves.
# Usage: build_image.sh CACHE IMAGE PROGRAM…
set -eu
here=$(cd "$(dirname "$0")" && pwd)
cache=$1 image=$2
shift 2
release=$(cat "$cache/release")
# The transport, in every boot; the rest by name: "load NAME".
boot="virtio_pci virtio_console"
on_demand="virtio_blk ext4 configfs gpio-sim i2c-stub i2c-dev vi2c pwm-pca9685 lm75 sht3x mcp4725 m62332
    max517 ti-dac5571 wire w1_therm vw1 softdog usbserial ftdi_sio uhci-hcd ehci-pci xhci-pci virtio_net"

root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
(cd "$root" && mkdir -p bin sbin dev proc sys tmp run data etc lib/modules usr/bin usr/sbin root mnt var)

add_program() { # FILE: its path in the machine is /bin
    install -D -m 755 "$1" "$root/bin/$(basename "$1")"
    # ldd prints "lib => /path (addr)" and the loader as "/path (addr)".
    for library in $(ldd "$1" 2>/dev/null | grep -o '/[^ ]*'); do
        [ -e "$root$library" ] || install -D -m 755 "$(readlink -f "$library")" "$root$library"
    done
}
add_program "$(command -v busybox)"
for applet in $(busybox --list-full); do
    mkdir -p "$root/$(dirname "$applet")"
    ln -s /bin/busybox "$root/$applet" 2>/dev/null || true
done
for program in "$@"; do
    rm -f "$root/bin/$(basename "$program")"
    add_program "$program"
done
# Debugging information is most of a program with sanitizers, and memory that the machine lacks; its lines can be
# found outside with the build's own file.
strip --strip-debug "$root"/bin/lampwarden*
install -m 755 "$here/guest/init" "$root/init"
install -m 755 "$here/guest/load" "$root/bin/load"

# One flat folder of modules and one file of dependencies: nothing to parse at boot.
plan() {
    modprobe -d "$cache/kernel" -S "$release" --show-depends "$1" | awk '$1 == "insmod" {print $2}'
}
for module in $boot $on_demand; do
    files=$(plan "$module") || { echo "this kernel has no $module"; exit 1; }
    depends=
    for file in $files; do
        name=$(basename "$file" .ko)
        [ -e "$root/lib/modules/$name.ko" ] || install -m 644 "$file" "$root/lib/modules/$name.ko"
        [ "$(echo "$name" | tr _ -)" = "$(echo "$module" | tr _ -)" ] || depends="$depends $name"
    done
    if [ -z "$files" ]; then
        echo "$module: builtin"
    else
        # The file's own name may differ from the asked one in - and _.
        file=$(basename "$(echo "$files" | tail -n 1)" .ko)
        echo "$file:$depends"
        [ "$file" = "$(echo "$file" | tr _ -)" ] || echo "$(echo "$file" | tr _ -):$depends"
    fi
done >"$root/lib/modules/depends"
strip --strip-debug "$root"/lib/modules/*.ko
for module in $boot; do
    plan "$module"
done | awk '!seen[$0]++' | while read -r file; do basename "$file" .ko; done >"$root/lib/modules/boot"

echo 'root:x:0:0:root:/root:/bin/sh' >"$root/etc/passwd"
echo 'root:x:0:' >"$root/etc/group"
(cd "$root" && find . -print0 | sort -z |
    cpio --quiet --null -o -H newc -R 0:0 --reproducible) >"$image.new"
mv "$image.new" "$image"
