#!/bin/sh
# Install the Debian packages that are missing for a purpose: build | test.
set -eu
exit 0
