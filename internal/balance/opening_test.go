package balance

import (
	"testing"

	"evendraw/internal/advice"
)

// Where openings are to be made alike, an unknown one is waited for: its cylinder's last
// level is none, and nothing is done or told by it.
func TestUnknownOpeningIsWaitedFor(t *testing.T) {
	b := newBench(2, 1)
	b.draw = []float64{25, 25}
	bal := New(Config{Bank: b.bank, Ambient: 101.3, LevelBy: ByOpening})
	known := func(k int) bool { return k < 60 || k >= 200 }
	for k := range 300 {
		s := b.span()
		s.Opening[0] = 14 * (1 + 0.01*b.rng.NormFloat64())
		if known(k) {
			s.Opening[1] = 14 * (1 + 0.01*b.rng.NormFloat64())
		}
		if k == 60 {
			b.draw[1] = 33
		}
		r := bal.Push(&s)
		unknown := k > 70 && k < 200
		waits := r.Advice.Kind == advice.Wait && r.Advice.Why == advice.WhyNoOpening
		if unknown != waits && (k < 60 || unknown || k > 210) {
			t.Fatalf("cycle %d: %+v", k, r.Advice)
		}
	}
}
