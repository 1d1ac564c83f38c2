#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Install the Debian packages that are missing for a purpose, and say which. Nothing is asked, nothing is removed, and
# apt is called only when something is missing.
#   install-packages.sh build   what compiling and `make demo` need
#   install-packages.sh test    what `make test` needs besides
#   install-packages.sh ci      what the sanitizer pass of .ci/run needs besides
#   install-packages.sh bench   what `make bench` compares with
set -eu

build="gcc g++ libc6-dev meson ninja-build pkg-config libdcmtk-dev libopenjp2-7-dev libjansson-dev libgsl-dev
libcairo2-dev libmicrohttpd-dev libpng-dev libmd-dev libsqlite3-dev libarchive-dev zlib1g-dev
fonts-dejavu-core"
tests="libcmocka-dev dcmtk dicom3tools libgdcm-tools libopenjp2-tools libjpeg-turbo-progs poppler-utils python3
python3-numpy python3-scipy python3-pydicom python3-pil clang-format"
ci="clang libclang-rt-14-dev llvm"
bench="python3 python3-numpy python3-scipy python3-pil python3-pydicom python3-skimage"

case "${1:-}" in
build) wanted=$build ;;
test) wanted="$build $tests" ;;
ci) wanted="$build $tests $ci" ;;
bench) wanted="$build $bench" ;;
*)
    echo "install-packages.sh: \"${1:-}\" was found, build, test, ci or bench was expected" >&2
    exit 2
    ;;
esac
# a node that is there already may not be Debian's, and the two conflict
case "$1" in
test | ci)
    command -v node >/dev/null || wanted="$wanted nodejs"
    command -v npm >/dev/null || wanted="$wanted npm"
    command -v chromium >/dev/null || wanted="$wanted chromium"
    ;;
esac
command -v dpkg-query >/dev/null || {
    echo "install-packages.sh: not a Debian system; these packages or their like must be there:" $wanted >&2
    exit 0
}

missing=""
for package in $wanted; do
    dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q 'install ok installed' || missing="$missing $package"
done
[ -n "$missing" ] || exit 0

as_root=""
if [ "$(id -u)" -ne 0 ]; then
    command -v sudo >/dev/null || {
        echo "install-packages.sh: neither root nor sudo was found; install these packages first:$missing" >&2
        exit 1
    }
    as_root="sudo"
fi
# quiet unless it fails; sudo drops the environment, so the variable is set behind it
apt_get() {
    output=$($as_root env DEBIAN_FRONTEND=noninteractive apt-get -q -y "$@" 2>&1 </dev/null) || {
        echo "$output" | tail -n 20 >&2
        return 1
    }
}

# a fresh machine has no package lists, an old one may not know a package yet
for package in $missing; do
    apt-cache show --no-all-versions "$package" >/dev/null 2>&1 && continue
    echo "reading the Debian package lists"
    apt_get update
    break
done
echo "installing missing Debian packages:$missing"
# shellcheck disable=SC2086 # a list of names
apt_get install --no-install-recommends $missing || {
    echo "that failed; once more with fresh package lists"
    apt_get update
    # shellcheck disable=SC2086
    apt_get install --no-install-recommends $missing
}
