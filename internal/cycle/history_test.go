package cycle

import (
	"math/rand/v2"
	"testing"

	"evendraw/internal/sensor"
)

// Nothing is allocated once the history is full, cycle by cycle.
func TestNoAllocations(t *testing.T) {
	tracker := NewTracker(Config{Channels: []int{0, 1, 2, 3}, Ambient: 101.3})
	s := newSynth(4)
	s.runner = nozzles
	var samples []sensor.Sample
	s.run(26, func(x *sensor.Sample) { samples = append(samples, *x) })
	spans := 0
	push := func(samples []sensor.Sample) {
		for i := range samples {
			if _, ok := tracker.Push(&samples[i]); ok {
				spans++
			}
		}
	}
	push(samples[:20_000])
	rest := samples[20_000:]
	before := spans
	if n := testing.AllocsPerRun(4, func() {
		push(rest[:1000])
		rest = rest[1000:]
	}); n != 0 || spans-before < 30 || !tracker.follow.intake.usable(4) {
		t.Errorf("%v allocations a second, %d cycles", n, spans-before)
	}
}

// A place is found as by looking at every sample, however uneven they are, while the history
// grows and after the older half went.
func TestFindIsTheLastAtOrBefore(t *testing.T) {
	for name, longest := range map[string]float64{"even": 0, "short gaps": 0.05, "long gaps": 3} {
		t.Run(name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(1, 2))
			h := newHistory([]int{0}, 4096)
			s := sensor.Sample{N: 1}
			gone := 0
			for n := range 10_000 {
				s.Time += 1e-3
				if n%9 == 8 {
					s.Time += longest * random.Float64()
				}
				s.Absolute[0] += 1
				gone += h.push(&s)
				if n < 2 || n%50 != 0 {
					continue
				}
				at := h.oldest() + random.Float64()*(h.newest()-h.oldest())
				want := h.first()
				for i := h.first(); i < h.count-1 && h.at(i) <= at; i++ {
					want = i
				}
				got, share := h.find(at)
				if got != want || share < 0 || share > 1 {
					t.Fatalf("sample %d of %d to %d at %v, share %v; want %d", got, h.first(), h.count, at, share, want)
				}
				if v := h.value(0, got, 0); int(v) != gone+got+1 {
					t.Fatalf("sample %d holds %v", got, v)
				}
			}
		})
	}
}

// Dips that were once seen to be round must look flat for longer before they count as cut off.
func TestRoundDipsAreCutOffLater(t *testing.T) {
	t.Parallel()
	for round, looks := range map[bool]int{false: floorLooks, true: roundLooks} {
		var h health
		h.round[1] = round
		for h.flat[1] = 0; h.flat[1] < looks; h.flat[1]++ {
			if h.isFlat(1) {
				t.Errorf("round %v: cut off after %d looks", round, h.flat[1])
			}
		}
		if !h.isFlat(1) {
			t.Errorf("round %v: not cut off after %d looks", round, looks)
		}
	}
}
