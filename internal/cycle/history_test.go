package cycle

import (
	"math/rand/v2"
	"testing"

	"evendraw/internal/sensor"
)

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
