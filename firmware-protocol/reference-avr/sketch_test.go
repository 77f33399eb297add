package avr_test

import (
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/frame"
)

// sketches compiles both sketches by the builder of the editor that they are opened in, with its core.
func sketches(t *testing.T) (dir string) {
	t.Helper()
	effort.ForWhole(t, "compiling sketches")
	effort.Need(t, "arduino-builder", "arduino-builder and arduino-core-avr")
	return build(t, "harness", "sketches")
}

// The board program opens as a sketch, unchanged, and what comes of it there sends the same frames. The sketch for
// other boards prints what is read as a board that prints, with a clock, and loses no row.
func TestSketches(t *testing.T) {
	t.Parallel()
	dir := sketches(t)
	counts := [frame.MaxChannels]uint16{204, 409, 614, 819}
	run := func(program string) run {
		return decode(simulateProgram(t, dir, program, "--waveform", write(t, "0 1 2 3 4\n"), "--seconds", "3"))
	}
	r := run("program.elf")
	wantSound(t, r)
	wantSteady(t, r.frames, 1000)
	if got := r.frames[len(r.frames)-1].Counts; got != counts {
		t.Errorf("counts %v", got)
	}
	r = run("print.elf")
	if len(r.boards) == 0 || r.boards[0].Printed != frame.WithClock || r.boards[0].Serial != "MY-BOARD-1" ||
		len(r.boards[0].Channels) != 4 {
		t.Fatalf("%+v, %+v", r.boards, r.stats)
	}
	if r.stats.Lost+r.stats.Damaged != 0 || len(r.frames) < 600 || r.frames[len(r.frames)-1].Counts != counts {
		t.Errorf("%d frames, %+v", len(r.frames), r.stats)
	}
}
