#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# The main job on the bundled invented case.   demo.sh BRANCHKEEP FOLDER
set -eu
mkdir -p "$2"
"$1" demo "$2"
echo "The page: $1 serve --data $2/cases"
