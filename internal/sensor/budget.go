package sensor

import (
	"math"

	"evendraw/internal/pressure"
)

// BudgetDraw is the draw at which a budget's gain error counts. Trade practice: a port draws 20 to
// 30 kPa at a warm idle.
const BudgetDraw pressure.KPa = 25

// GainBand is how far the slope of a kind may be off, as a share. The MPX4115A's data sheet gives its span as
// 4.521 to 4.659 V about 4.590 V, ±1.5 %; other kinds are taken to be alike.
const GainBand = 0.015

// noiseFrames is how many frames a cycle mean at idle holds at least. Derived: 120/1200 s at the
// usual 1000 frames a second.
const noiseFrames = 100

// Known is what is known of one channel. NaN is unknown.
type Known struct {
	Kind Kind
	// Bits of the converter; 0 is 10.
	Bits int
	// ZeroUncertainty and Noise are the zero pass's; NaN without one.
	ZeroUncertainty, Noise pressure.KPa
	// GainUncertainty is the match pass's; NaN without one.
	GainUncertainty float64
	// Drift is by how much the offset moved from one zero pass to the next; NaN if there was
	// only one.
	Drift pressure.KPa
}

// Budget is how far the reading of one sensor may be off, by cause: half-widths in kPa at a draw of
// BudgetDraw, those of a pass being 95 % intervals. NaN is unknown.
type Budget struct {
	Offset pressure.KPa // error band of the kind, or what the zero pass left
	Gain   pressure.KPa // data sheet's, or what the match pass left
	// Quantisation is by how much the mean of a steady pressure may be off because of the
	// converter's steps.
	Quantisation pressure.KPa
	Drift        pressure.KPa // seen between the last two zero passes
	Noise        pressure.KPa // of one cycle's mean
	// Total is the root of the sum of the squares of those that are known.
	Total pressure.KPa
}

// BudgetOf adds up a channel's errors.
func BudgetOf(k *Known) Budget {
	nan := pressure.KPa(math.NaN())
	b := Budget{Offset: k.ZeroUncertainty, Gain: BudgetDraw * pressure.KPa(k.GainUncertainty), Drift: k.Drift,
		Noise: nan}
	if isNaN(b.Offset) {
		b.Offset = k.Kind.Error
	}
	if isNaN(b.Gain) {
		b.Gain = BudgetDraw * GainBand
	}
	bits := k.Bits
	if bits == 0 {
		bits = 10
	}
	q := float64(k.Kind.CountKPa(bits))
	b.Quantisation = pressure.KPa(q / 2)
	if !isNaN(k.Noise) {
		s := math.Sqrt(max(float64(k.Noise*k.Noise)-q*q/12, 0))
		b.Quantisation = pressure.KPa(q * stepBias(s/q))
		b.Noise = pressure.KPa(1.96 * float64(k.Noise) / math.Sqrt(noiseFrames))
	}
	sum := 0.0
	for _, v := range []pressure.KPa{b.Offset, b.Gain, b.Quantisation, b.Drift, b.Noise} {
		if !isNaN(v) {
			sum += float64(v * v)
		}
	}
	b.Total = pressure.KPa(math.Sqrt(sum))
	return b
}

// stepBias returns by how much the mean of a steady pressure may be off because of the converter's steps, in
// steps, with noise of standard deviation s steps. The error of rounding is a sawtooth over the pressure;
// noise weakens its k-th harmonic by exp(-2π²k²s²) (derived):
//
//	max over x of sum over k of sin(2πkx) / (πk) · exp(-2π²k²s²)
func stepBias(s float64) float64 {
	const harmonics, places = 30, 60
	most := 0.0
	for i := range places {
		x, sum := float64(i)/(2*places), 0.0
		for k := 1; k <= harmonics; k++ {
			f := float64(k)
			sum += math.Sin(2*math.Pi*f*x) / (math.Pi * f) * math.Exp(-2*math.Pi*math.Pi*f*f*s*s)
		}
		most = max(most, sum)
	}
	return min(most, 0.5)
}

func isNaN(p pressure.KPa) bool { return math.IsNaN(float64(p)) }
