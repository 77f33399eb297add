package view

import (
	"math"

	"evendraw/internal/balance"
)

// What a lane's trace remembers: trendSeconds, a point every trendStep.
const (
	trendSeconds = 30
	trendStep    = 0.5
	trendPoints  = int(trendSeconds / trendStep)
	mostLanes    = 8
)

// trend is what the differences were in the last half minute, the newest last, in kPa; NaN where they were unknown.
type trend struct {
	time      float64 // of the newest point, s of the stream
	reference int
	begun     bool
	kpa       [mostLanes][trendPoints]float32
}

// push takes a reading when the next point is due.
func (t *trend) push(r *balance.Reading) {
	if !t.begun || r.Reference != t.reference || r.Time < t.time || r.Time > t.time+trendSeconds {
		t.begun, t.reference, t.time = true, r.Reference, r.Time-trendStep
		for c := range t.kpa {
			for i := range t.kpa[c] {
				t.kpa[c][i] = float32(math.NaN())
			}
		}
	}
	for ; t.time+trendStep <= r.Time; t.time += trendStep {
		for c := range t.kpa {
			k := &t.kpa[c]
			copy(k[:], k[1:])
			k[trendPoints-1] = float32(math.NaN())
			if c < len(r.Cylinders) && r.Span.Cycle {
				k[trendPoints-1] = float32(r.Cylinders[c].Difference)
			}
		}
	}
}
