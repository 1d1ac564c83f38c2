# Thin: everything real is in meson.build and tools/.
BUILD ?= build

all: packages-build
	@test -f $(BUILD)/build.ninja || meson setup $(BUILD)
	@meson compile -C $(BUILD)

packages-build:
	@sh tools/install-packages.sh build

.PHONY: all packages-build
