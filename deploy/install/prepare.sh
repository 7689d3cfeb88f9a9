#!/bin/sh
# Prints the path of an archive with a bare Debian: what debootstrap makes, with
# systemd and nothing that headroom would bring or need by itself. Makes it first
# when it isn't there, from the mirror that this machine's own apt uses. Needs
# root and the Debian package debootstrap.
#
# HEADROOM_INSTALL_CACHE chooses where; the default is below the user's cache.
set -eu

here=$(cd "$(dirname "$0")" && pwd)
cache=${HEADROOM_INSTALL_CACHE:-${XDG_CACHE_HOME:-$HOME/.cache}/headroom-install}

die() {
	echo "the bare Debian cannot be made: $*" >&2
	exit 1
}

[ "$(id -u)" = 0 ] || die "it needs root"
PATH=$PATH:/usr/sbin:/sbin
command -v debootstrap >/dev/null || die "Debian package debootstrap is missing (apt-get install --no-install-recommends debootstrap)"

# shellcheck source=/dev/null
suite=$(. /etc/os-release && echo "$VERSION_CODENAME")
# The first archive of apt's own list that has this release itself.
# shellcheck disable=SC2016 # apt's names, not the shell's
mirror=$(apt-get indextargets --format '$(REPO_URI) $(CODENAME) $(COMPONENT)' 'Created-By: Packages' 'Label: Debian' |
	awk -v suite="$suite" '$2 == suite && $3 == "main" { print $1; exit }')
[ -n "$mirror" ] || die "apt knows no archive of $suite (apt-get update)"

key=$(sha256sum <"$here/prepare.sh" | cut -c1-12)
archive=$cache/$suite-$key.tar
if [ ! -e "$archive" ]; then
	mkdir -p "$cache"
	work=$(mktemp -d "$cache/making.XXXXXX")
	trap 'rm -rf "$work"' EXIT
	trap 'exit 1' INT TERM
	chmod 755 "$work"
	debootstrap --variant=minbase --include=systemd-sysv,udev,dbus "$suite" "$work/root" "$mirror" >"$work/log" 2>&1 || {
		tail -n 20 "$work/log" >&2
		die "debootstrap fails"
	}
	rm -rf "$work/root/var/cache/apt/archives"/*.deb "$work/root/var/lib/apt/lists"/*
	tar -C "$work/root" --numeric-owner -cf "$work/archive.tar" .
	mv "$work/archive.tar" "$archive"
fi
echo "$archive"
