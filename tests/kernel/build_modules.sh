#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The kernel modules that Debian's kernel lacks, built against Debian's headers so that they load into the
# unmodified kernel: gpio-sim and pwm-pca9685 from the kernel's own sources, vi2c and vw1 from modules/.
# Usage: build_modules.sh CACHE
set -eu
here=$(cd "$(dirname "$0")" && pwd)
cache=$(cd "$1" && pwd)
release=$(cat "$cache/release")
out=$cache/modules
mkdir -p "$out"
cd "$out"
sum=$(cat "$here"/modules/* "$0" "$cache/release" | sha256sum)
if [ "$(cat built 2>/dev/null)" = "$sum" ]; then
    exit 0
fi
cp "$cache/source/drivers/gpio/gpio-sim.c" gpio-sim-core.c
cp "$cache/source/drivers/gpio/gpiolib.h" "$cache/source/drivers/pwm/pwm-pca9685.c" .
# gpio-sim needs the interrupt simulator, which Debian's kernel is built without: link it into the module.
# irq_to_desc() is not exported to modules; this says the same with functions that are.
sed 's/irq_to_desc(\([a-z_]*\))/irq_data_to_desc(irq_get_irq_data(\1))/' "$cache/source/kernel/irq/irq_sim.c" \
    >irq_sim.c
cp "$here"/modules/vi2c.c "$here"/modules/vi2c.h "$here"/modules/vw1.c .
cat >Kbuild <<'KBUILD'
obj-m := gpio-sim.o pwm-pca9685.o vi2c.o vw1.o
gpio-sim-y := gpio-sim-core.o irq_sim.o
KBUILD
rm -f ./*.ko
make -s -j "$(nproc)" -C "$cache/headers/usr/src/linux-headers-$release" M="$out" modules >make.log 2>&1 || {
    cat make.log
    exit 1
}
strip --strip-debug ./*.ko
# depmod wants them beside the kernel's own.
tree=$cache/kernel/lib/modules/$release
mkdir -p "$tree/extra"
cp ./*.ko "$tree/extra/"
depmod -b "$cache/kernel" "$release"
echo "$sum" >built
