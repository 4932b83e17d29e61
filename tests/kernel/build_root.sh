#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# A small Debian with systemd and udev as an ext4 image beside the kernel, made once; our programs are not in it.
# Prints the image's path. Exit 77 with the reason when this machine cannot have it.
# Usage: build_root.sh CACHE    (LAMPWARDEN_DEBIAN: the mirror)
set -eu
cache=$(cd "$1" && pwd)
release=$(cat "$cache/release")
mirror=${LAMPWARDEN_DEBIAN:-http://deb.debian.org/debian}
PATH=$PATH:/usr/sbin:/sbin
image=$cache/debian-$release.ext4
exec 9>"$cache/lock"
flock 9
sum=$(sha256sum <"$0")
if [ "$(cat "$image.built" 2>/dev/null)" = "$sum" ]; then
    echo "$image"
    exit 0
fi
[ "$(id -u)" = 0 ] || { echo "a Debian root is made by root only"; exit 77; }
command -v debootstrap >/dev/null || { echo "debootstrap not found (Debian: debootstrap)"; exit 77; }

root=$cache/debian
packages=systemd,systemd-sysv,udev,dbus,kmod,gpiod,libi2c0,sqlite3,libgpiod2,libmodbus5,libconfig9,libjansson4,libmicrohttpd12
if [ "$(cat "$root/made" 2>/dev/null)" != "$packages" ]; then
    rm -rf "$root"
    timeout 900 debootstrap --variant=minbase \
        --include="$packages" bookworm "$root" "$mirror" >"$cache/debootstrap.log" 2>&1 || {
        echo "debootstrap failed: $(tail -n 1 "$cache/debootstrap.log")"
        exit 77
    }
    echo "$packages" >"$root/made"
fi
rm -rf "$root"/var/cache/apt/* "$root"/var/lib/apt/lists/* "$root"/usr/share/doc/* "$root"/usr/share/locale/* \
    "$root"/usr/share/man/*
echo lampwarden-machine >"$root/etc/hostname"
echo 0123456789abcdef0123456789abcdef >"$root/etc/machine-id"
: >"$root/etc/fstab"
for tool in i2cget i2cset; do
    install -m 755 "$(command -v "$tool")" "$root/usr/bin/$tool"
done
# Test scripts say "load NAME" in every machine.
cat >"$root/usr/bin/load" <<'LOAD'
#!/bin/sh
modprobe "$@" || exit
[ ! -d /sys/kernel/config ] || mountpoint -q /sys/kernel/config || mount -t configfs config /sys/kernel/config
LOAD
chmod 755 "$root/usr/bin/load"

rm -rf "$root/usr/lib/modules"
tree=lib/modules/$release
mkdir -p "$root/usr/$tree"
for module in configfs gpio-sim i2c-stub i2c-dev pwm-pca9685 lm75 usbserial ftdi_sio cdc_acm xhci-pci virtio_blk ext4; do
    modprobe -d "$cache/kernel" -S "$release" --show-depends "$module" | awk '$1 == "insmod" {print $2}'
done | sort -u | while read -r file; do
    install -D -m 644 "$file" "$root/usr/$tree/${file#"$cache/kernel/$tree/"}"
done
cp "$cache/kernel/$tree/modules.order" "$cache/kernel/$tree/modules.builtin" "$cache/kernel/$tree/modules.builtin.modinfo" \
    "$root/usr/$tree/"
depmod -b "$root/usr" "$release" 2>/dev/null || depmod -b "$root" "$release"
rm -f "$image"
mke2fs -q -t ext4 -d "$root" "$image" 480M >"$cache/debootstrap.log" 2>&1
echo "$sum" >"$image.built"
echo "$image"
