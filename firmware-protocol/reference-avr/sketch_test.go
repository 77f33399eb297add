package avr_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/frame"
)

// sketch compiles a folder that hobbyists' editor opens, by that editor's own builder with its core, and returns
// a folder with the program as board.elf.
func sketch(t *testing.T, folder string) string {
	t.Helper()
	const core, builder = "/usr/share/arduino/hardware", "/usr/share/arduino-builder"
	effort.Need(t, "arduino-builder", "arduino-builder and arduino-core-avr")
	dir := build(t, "harness")
	made := filepath.Join(dir, "sketch")
	if err := os.Mkdir(made, 0o755); err != nil {
		t.Fatal(err)
	}
	name := filepath.Base(folder) + ".ino"
	out, err := exec.Command("arduino-builder", "-hardware", builder, "-hardware", core, "-tools", builder,
		"-tools", "/usr/bin", "-fqbn", "arduino:avr:uno", "-build-path", made, "-warnings", "all",
		// Debian's core has a name that Debian's compiler for this language standard has not.
		"-prefs", "compiler.cpp.extra_flags=-DDECIMAL_DIG=10", filepath.Join(folder, name)).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", folder, err, out)
	}
	if err := os.Rename(filepath.Join(made, name+".elf"), filepath.Join(dir, "board.elf")); err != nil {
		t.Fatal(err)
	}
	return dir
}

// The board program opens as a sketch, unchanged, and what comes of it there sends the same frames.
func TestProgramAsASketch(t *testing.T) {
	t.Parallel()
	effort.ForWhole(t, "compiling sketches")
	r := decode(simulate(t, sketch(t, "program"), "--waveform", write(t, "0 1 2 3 4\n"), "--seconds", "2"))
	wantSound(t, r)
	wantSteady(t, r.frames, 1000)
	if got := r.frames[len(r.frames)-1].Counts; got != [frame.MaxChannels]uint16{204, 409, 614, 819} {
		t.Errorf("counts %v", got)
	}
}

// The sketch for other boards prints what is read as a board that prints, with a clock, and loses no row.
func TestPrintSketch(t *testing.T) {
	t.Parallel()
	effort.ForWhole(t, "compiling sketches")
	dir := sketch(t, "../../hardware-notes/print")
	r := decode(simulate(t, dir, "--waveform", write(t, "0 1 2 3 4\n"), "--seconds", "3"))
	if len(r.boards) == 0 || r.boards[0].Printed != frame.WithClock || r.boards[0].Serial != "MY-BOARD-1" ||
		len(r.boards[0].Channels) != 4 {
		t.Fatalf("%+v, %+v", r.boards, r.stats)
	}
	if r.stats.Lost+r.stats.Damaged != 0 || len(r.frames) < 600 ||
		r.frames[len(r.frames)-1].Counts != [frame.MaxChannels]uint16{204, 409, 614, 819} {
		t.Errorf("%d frames, %+v", len(r.frames), r.stats)
	}
}
