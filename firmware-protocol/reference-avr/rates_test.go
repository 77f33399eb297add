package avr_test

import (
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/fakeboard"
)

// TestWrongRate reads what the program sends at 500 000 bit/s, bit by bit, as a host
// that is set to another rate does: no frame comes out. At the right one all do.
func TestWrongRate(t *testing.T) {
	effort.ForWhole(t, "the program's other habits")
	t.Parallel()
	const rate = 500_000
	dir := build(t, "all", "harness")
	raw := simulate(t, dir, "--seconds", "1")
	sent := decode(raw)
	wantSound(t, sent)
	for _, host := range fakeboard.Rates {
		for _, strict := range []bool{true, false} {
			got := decode(fakeboard.Resample([][]byte{raw}, rate, host, strict))
			want := 0
			if host == rate {
				want = len(sent.frames)
			}
			if len(got.frames) != want || want == 0 && len(got.boards) > 0 {
				t.Errorf("read at %d: %d frames, want %d", host, len(got.frames), want)
			}
		}
	}
	t.Logf("count: %d frames of the board's program read at %d wrong rates, 0 accepted",
		len(sent.frames), len(fakeboard.Rates)-1)
}
