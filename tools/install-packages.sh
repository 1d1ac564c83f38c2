#!/bin/sh
# Install the Debian packages that are missing for a purpose, and say which.
#   install-packages.sh build   what compiling and `make demo` need
#   install-packages.sh test    what `make test` needs besides
#   install-packages.sh ci      what the sanitizer pass of .ci/run needs besides
set -eu

build="gcc g++ libc6-dev meson ninja-build pkg-config libdcmtk-dev libopenjp2-7-dev libjansson-dev libgsl-dev
libcairo2-dev libpng-dev libmd-dev zlib1g-dev fonts-dejavu-core"
tests="libcmocka-dev dcmtk libopenjp2-tools libjpeg-turbo-progs poppler-utils python3 python3-numpy python3-scipy
python3-pydicom python3-pil libgdcm-tools"
ci="clang libclang-rt-14-dev llvm"

case "${1:-}" in
build) wanted=$build ;;
test) wanted="$build $tests" ;;
ci) wanted="$build $tests $ci" ;;
*)
    echo "install-packages.sh: \"${1:-}\" was found, build, test or ci was expected" >&2
    exit 2
    ;;
esac

missing=""
for package in $wanted; do
    dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q 'install ok installed' || missing="$missing $package"
done
[ -n "$missing" ] || exit 0

echo "installing missing Debian packages:$missing"
as_root=""
if [ "$(id -u)" -ne 0 ]; then
    command -v sudo >/dev/null || {
        echo "install-packages.sh: neither root nor sudo was found; install these packages first:$missing" >&2
        exit 1
    }
    as_root="sudo"
fi
export DEBIAN_FRONTEND=noninteractive
# shellcheck disable=SC2086 # a list of names
$as_root apt-get install -y -q --no-install-recommends $missing >/dev/null 2>&1 || {
    $as_root apt-get update -q >/dev/null
    # shellcheck disable=SC2086
    $as_root apt-get install -y -q --no-install-recommends $missing >/dev/null
}
