// Package waves draws one cycle of all cylinders against the crank's angle, as plain data: a session's Wave comes in,
// strips of shares of their height come out. Begin with Of.
package waves

import (
	"fmt"
	"math"

	"evendraw/internal/bank"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// Picture is one cycle of all cylinders against the crank's angle.
type Picture struct {
	Strips []Strip
	// Marks are places along the strips, with what stands there.
	Marks []Mark
	Say   string
}

// Strip is one cylinder's cycle, from its start to its end: 0 is the bottom of the strip, 1 its top.
type Strip struct {
	Label      string
	Mean, Live []float64
	Fault      string
}

// Mark is a place along the strips, 0 to 1, and its text.
type Mark struct {
	At   float64
	Text string
}

// waveRange are the ends that a strip's scale can have, kPa absolute, from the lowest.
var waveRange = []pressure.KPa{0, 20, 40, 60}

// leadPoints is how much of the cycle stands before the first dip: 90 degrees.
const leadPoints = session.WavePoints / 8

// Of returns a cycle in a unit, beside the pressure of the ambient air, kPa; nil for no cycle says that there is none.
func Of(wave *session.Wave, b *bank.Bank, ambient pressure.KPa, u pressure.Unit) *Picture {
	w := &Picture{Say: "No cycle to show: the engine must turn steadily."}
	if wave == nil {
		return w
	}
	first := b.FiringOrder[0]
	low, high := math.Inf(1), float64(ambient)
	for c := range wave.N {
		for i := range session.WavePoints {
			low = min(low, float64(wave.Live[c][i]), float64(wave.Mean[c][i]))
			high = max(high, float64(wave.Mean[c][i]))
		}
	}
	base := waveRange[0]
	for _, r := range waveRange {
		if float64(r) <= low {
			base = r
		}
	}
	w.Say = fmt.Sprintf("Filled: mean of ten cycles. Dots, if any: where the last cycle differs. Height: %s to %s %s "+
		"absolute. 0° is the dip of cylinder %d.", u.Format(base), u.Format(pressure.KPa(high)), u.Name, first)
	start := int(math.Round(wave.DipAt[first-1]*session.WavePoints)) - leadPoints + session.WavePoints
	for c := range wave.N {
		s := Strip{Label: fmt.Sprint(c + 1)}
		for i := range session.WavePoints {
			k := (start + i) % session.WavePoints
			s.Mean = append(s.Mean, share(wave.Mean[c][k], base, high))
			s.Live = append(s.Live, share(wave.Live[c][k], base, high))
		}
		w.Strips = append(w.Strips, s)
	}
	for deg := 0; deg < 720; deg += 180 {
		w.Marks = append(w.Marks, Mark{float64(deg+90) / 720, fmt.Sprintf("%d°", deg)})
	}
	return w
}

// share is where a pressure stands between two others, kPa, 0 to 1.
func share(kpa float32, low pressure.KPa, high float64) float64 {
	return min(max((float64(kpa)-float64(low))/(high-float64(low)), 0), 1)
}
