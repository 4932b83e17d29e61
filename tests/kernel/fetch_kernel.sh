#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Debian's own kernel, its headers and the few source files that build_modules.sh needs, unpacked into a
# folder. Nothing is installed: neither /boot nor /lib/modules of this machine is touched.
# Usage: fetch_kernel.sh CACHE
set -eu
cache=$1
mkdir -p "$cache/deb"

# linux-image-amd64 is Debian's own pointer at the current full kernel.
image=$(apt-cache depends linux-image-amd64 2>/dev/null | awk '/Depends:/ {print $2; exit}')
if [ -z "$image" ]; then
    echo "no package linux-image-amd64 in apt's lists (apt-get update)"
    exit 1
fi
release=${image#linux-image-}
abi=${release%-amd64}
series=$(echo "$release" | cut -d. -f1,2)
version=$(apt-cache policy "$image" | awk '/Candidate:/ {print $2}')
if [ "$(cat "$cache/release" 2>/dev/null)" = "$release" ]; then
    exit 0
fi

cd "$cache/deb"
apt-get -q download "$image=$version" "linux-headers-$release=$version" "linux-headers-$abi-common=$version" \
    "linux-kbuild-$series=$version" "linux-source-$series=$version" >download.log 2>&1 || {
    tail -n 1 download.log
    exit 1
}
rm -rf "$cache/kernel" "$cache/headers" "$cache/source" "$cache/modules" "$cache/release"
dpkg -x "${image}_${version}"_*.deb "$cache/kernel"
for package in "linux-headers-$release" "linux-headers-$abi-common" "linux-kbuild-$series"; do
    dpkg -x "$package"_"$version"_*.deb "$cache/headers"
done
# The headers package names the place where it is usually installed; point it at ours.
sed -i "s|^include /usr/src/|include $cache/headers/usr/src/|" \
    "$cache/headers/usr/src/linux-headers-$release/Makefile"

# Streamed: the 139 MB of sources never land on the disk.
mkdir -p "$cache/source"
tree=linux-source-$series
dpkg-deb --fsys-tarfile "${tree}_${version}_all.deb" | tar -xO "./usr/src/$tree.tar.xz" |
    tar -xJ -C "$cache/source" --strip-components=1 "$tree/drivers/gpio/gpio-sim.c" \
        "$tree/drivers/gpio/gpiolib.h" "$tree/kernel/irq/irq_sim.c" "$tree/drivers/pwm/pwm-pca9685.c"

# bzImage → ELF, which boots three seconds faster under emulation. Its place stands in the boot header
# (kernel documentation, arch/x86/boot.rst: payload_offset at 0x248, payload_length at 0x24c).
python3 - "$cache/kernel/boot/vmlinuz-$release" "$cache/kernel/vmlinux" <<'PYTHON'
import lzma, struct, sys
image = open(sys.argv[1], 'rb').read()
start = (image[0x1f1] + 1) * 512 + struct.unpack_from('<I', image, 0x248)[0]
size = struct.unpack_from('<I', image, 0x24c)[0]
elf = lzma.LZMADecompressor(format=lzma.FORMAT_XZ).decompress(image[start:start + size])
assert elf[:4] == b'\x7fELF'
open(sys.argv[2], 'wb').write(elf)
PYTHON
rm -f ./*.deb
echo "$release" >"$cache/release"
