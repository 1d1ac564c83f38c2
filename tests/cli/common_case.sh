# SPDX-License-Identifier: GPL-3.0-or-later
# For the scripts about cases: . "$(dirname "$0")/common_case.sh"
# BRANCHKEEP_BIN is the program, BK_SOURCE the source folder. Everything happens in a folder of its own.
set -eu
: "${BRANCHKEEP_BIN:?}" "${BK_SOURCE:?}"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cp "$BK_SOURCE/tests/data/measurement.json" "$BK_SOURCE/tests/data/solid.json" "$work"
cd "$work"

fail() {
    echo "FAIL: $*"
    exit 1
}

# The program ends well and says nothing on stderr; the answer is in the file `answer`.
ok() { # ARGUMENT...
    "$BRANCHKEEP_BIN" "$@" >answer 2>stderr || fail "$*: $(cat stderr)"
    [ ! -s stderr ] || fail "$*: wrote to stderr: $(cat stderr)"
}

# The program ends with this code, says exactly this line on stderr and nothing on stdout.
refused() { # CODE LINE ARGUMENT...
    code=$1 line=$2
    shift 2
    got=0
    "$BRANCHKEEP_BIN" "$@" >stdout 2>stderr || got=$?
    [ "$got" = "$code" ] || fail "$*: code $got, $code was expected: $(cat stderr)"
    [ "$(cat stderr)" = "branchkeep: $line" ] || fail "$*: \"$(cat stderr)\", \"branchkeep: $line\" was expected"
    [ ! -s stdout ] || fail "$*: wrote an answer besides"
}

# The answer holds this line (surrounding blanks and a trailing comma aside).
says() { # LINE
    sed 's/^ *//; s/,$//' answer | grep -qxF -- "$1" || fail "the answer lacks the line: $1"
}
# The answer holds this text somewhere.
holds() { # TEXT
    grep -qF -- "$1" answer || fail "the answer lacks: $1"
}
lacks() { # TEXT
    ! grep -qF -- "$1" answer || fail "the answer should not hold: $1"
}
# The lines of one item of `ask devices`.
item() { # USE
    awk -v use="\"use\": \"$1\"" 'index($0, use) { on = 1 } on { print } on && /"hold":/ { exit }' answer
}
item_says() { # USE LINE
    item "$1" | sed 's/^ *//; s/,$//' | grep -qxF -- "$2" || fail "$1: lacks the line $2; it is: $(item "$1")"
}
