#!/bin/sh
# Prints the folder that holds the rig's kernel: vmlinux, and its modules in
# load order. Makes that folder first when it isn't there, from Debian's own
# packages; the kernel is the one of the installed linux-headers-amd64. A lack
# is a failure that names the package (packages.txt lists them all).
#
# HEADROOM_RIG_CACHE chooses where; the default is below the user's cache.
set -eu

here=$(cd "$(dirname "$0")" && pwd)
cache=${HEADROOM_RIG_CACHE:-${XDG_CACHE_HOME:-$HOME/.cache}/headroom-rig}

# Modules by what they serve; the kernel's own dependencies come by themselves.
modules="
	virtio_pci virtio_console virtio_blk ext4
	i2c-dev vhci-hcd i2c-tiny-usb
	wire ds2482 w1_therm
	xhci-pci ftdi_sio
	i6300esb
	gpio-sim"

die() {
	echo "the rig cannot be prepared: $*" >&2
	exit 1
}

note() { echo "prepare: $*" >&2; }

# lack PACKAGE: fails with the name of what is to be installed.
lack() { die "Debian package $1 is missing (apt-get install --no-install-recommends $1)"; }

check_programs() {
	while read -r program package; do
		PATH=$PATH:/usr/sbin:/sbin command -v "$program" >/dev/null || lack "$package"
	done <<-END
		qemu-system-x86_64 qemu-system-x86
		modprobe kmod
		depmod kmod
		unxz xz-utils
		make make
		gcc gcc
		mkfs.ext4 e2fsprogs
	END
}

# find_kernel sets release (6.1.0-56-amd64), series (6.1) and version (6.1.192-2).
find_kernel() {
	release=$(dpkg-query -W -f '${Depends}' linux-headers-amd64 2>/dev/null |
		sed -n 's/^linux-headers-\([^ ,]*\).*/\1/p')
	[ -n "$release" ] || lack linux-headers-amd64
	[ -d "/lib/modules/$release/build" ] || lack "linux-headers-$release"
	version=$(dpkg-query -W -f '${Version}' "linux-headers-$release")
	series=$(echo "$release" | cut -d. -f1,2)
}

# fetch PACKAGE FOLDER: downloads that package in the headers' own version and
# unpacks it.
fetch() {
	note "fetching $1 $version"
	(cd "$work" && apt-get -qq -o APT::Sandbox::User=root download "$1=$version" >&2) ||
		die "Debian package $1 in version $version cannot be downloaded (apt-get update, or install newer headers)"
	dpkg-deb -x "$work/$1"_*.deb "$work/$2"
	rm "$work/$1"_*.deb
}

# extract_vmlinux: the bzImage holds the kernel proper, packed with xz; unpacked
# it boots three seconds faster (PVH). Offsets: Linux boot protocol,
# Documentation/x86/boot.rst: setup_sects 0x1f1, payload_offset 0x248,
# payload_length 0x24c.
extract_vmlinux() {
	setup=$(od -An -tu1 -j 497 -N 1 "$1" | tr -d ' ')
	offset=$(od -An -tu4 -j 584 -N 4 "$1" | tr -d ' ')
	length=$(od -An -tu4 -j 588 -N 4 "$1" | tr -d ' ')
	tail -c +$(((setup + 1) * 512 + offset + 1)) "$1" | head -c "$length" |
		unxz --single-stream >"$2" ||
		die "the kernel of linux-image-$release isn't packed with xz: extend extract_vmlinux"
}

# build_gpio_sim: Debian builds neither gpio-sim nor the interrupt simulator it
# needs, so both go into one module. The one changed line calls, in place of a
# function that isn't exported to modules, the exported one that does the same.
build_gpio_sim() {
	note "building gpio-sim.ko"
	src=linux-source-$series
	mkdir "$work/gpio-sim"
	tar -C "$work/gpio-sim" --strip-components=1 -xf "$work/source/usr/src/$src.tar.xz" \
		"$src/drivers/gpio/gpio-sim.c" "$src/drivers/gpio/gpiolib.h" "$src/kernel/irq/irq_sim.c"
	cd "$work/gpio-sim"
	mv drivers/gpio/gpio-sim.c gpio-sim-main.c
	mv drivers/gpio/gpiolib.h .
	sed 's/handle_simple_irq(irq_to_desc(irqnum));/generic_handle_irq(irqnum);/' kernel/irq/irq_sim.c >irq_sim.c
	printf 'obj-m := gpio-sim.o\ngpio-sim-y := gpio-sim-main.o irq_sim.o\n' >Kbuild
	make -s -C "/lib/modules/$release/build" M="$PWD" modules >make.log 2>&1 || {
		cat make.log >&2
		die "gpio-sim.ko of linux-source-$series $version does not build against linux-headers-$release"
	}
	strip -g gpio-sim.ko
	install -D -m 644 gpio-sim.ko "$work/image/lib/modules/$release/extra/gpio-sim.ko"
	cd "$here"
}

# collect_modules: load order is the order of the numbers in front.
collect_modules() {
	depmod -b "$work/image" "$release"
	mkdir "$work/out/modules"
	n=100
	for m in $modules; do
		modprobe -d "$work/image" -S "$release" --show-depends "$m" ||
			die "linux-image-$release has no module $m"
	done | awk '$1 == "insmod" && !seen[$2]++ { print $2 }' >"$work/order"
	while read -r file; do
		n=$((n + 1))
		name=$(basename "$file")
		case $name in
		*.xz) unxz -c "$file" >"$work/out/modules/$n-${name%.xz}" ;;
		*) cp "$file" "$work/out/modules/$n-$name" ;;
		esac
	done <"$work/order"
	[ -s "$work/order" ] || die "no modules were collected"
}

PATH=$PATH:/usr/sbin:/sbin
check_programs
find_kernel
key=$(sha256sum <"$here/prepare.sh" | cut -c1-12)
done_folder=$cache/linux-$version-$key
if [ ! -e "$done_folder/vmlinux" ]; then
	mkdir -p "$cache"
	work=$(mktemp -d "$cache/making.XXXXXX")
	chmod 755 "$work"
	trap 'rm -rf "$work"' EXIT
	trap 'exit 1' INT TERM
	mkdir "$work/out"
	fetch "linux-image-$release" image
	fetch "linux-source-$series" source
	extract_vmlinux "$work/image/boot/vmlinuz-$release" "$work/out/vmlinux"
	build_gpio_sim
	collect_modules
	echo "$version" >"$work/out/version"
	# Whole or not at all; losing the race against another run is fine too.
	mv -T "$work/out" "$done_folder" 2>/dev/null || [ -e "$done_folder/vmlinux" ] ||
		die "cannot write $done_folder"
	note "kept in $done_folder"
fi
echo "$done_folder"
