package avr_test

import (
	"testing"

	"evendraw/internal/frame"
)

// TestPattern checks the self-test's counts at every instant.
func TestPattern(t *testing.T) {
	dir := build(t, "PATTERN=1", "all", "harness")
	raw := simulate(t, dir, "--seconds", "3")
	r := decode(raw)
	wantSound(t, r)
	var audit frame.Audit
	audit.Push(raw)
	audit.Finish()
	if f := audit.Findings(); len(f) != 0 {
		t.Errorf("rules broken: %+v", f)
	}
	if m := r.boards[0].Model; m != "reference-avr-pattern" {
		t.Errorf("model %q", m)
	}
	for _, f := range r.frames {
		instant := f.Counter + uint32(f.Overflow)
		for i, turn := range []uint32{0, 32, 96, 64} {
			if want := 384 + 4*((instant-turn)&127); uint32(f.Counts[i]) != want {
				t.Fatalf("frame %d, channel %d: count %d, want %d", f.Counter, i, f.Counts[i], want)
			}
		}
	}
}
