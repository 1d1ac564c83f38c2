# Thin: everything real is in meson.build and tools/.
BUILD ?= build

all:
	@sh tools/install-packages.sh build
	@test -f $(BUILD)/build.ninja || meson setup $(BUILD) >/dev/null
	@meson compile -C $(BUILD)

# the main job on the bundled invented case: measured bifurcation, device sizes, report
demo: all
	@sh tools/demo.sh $(BUILD)/branchkeep $(BUILD)/demo

test:
	@sh tools/install-packages.sh test
	@test -f $(BUILD)/build.ninja || meson setup $(BUILD) >/dev/null
	@meson configure $(BUILD) -Dtests=enabled
	@meson compile -C $(BUILD)
	@sh tools/fetch-cines.sh $(BUILD)/ext
	@sh tools/fetch-browser-tools.sh
	@sh tools/run-tests.sh $(BUILD)

# ratios against a reference in the same run; see bench/README.md
bench: all
	@sh tools/install-packages.sh bench
	@sh bench/run.sh $(BUILD)

# long runs: accuracy on many phantoms made by the second generator
soak: test
	@sh tools/soak.sh $(BUILD)

.PHONY: all demo test bench soak
