package sensor

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"evendraw/internal/frame"
	"evendraw/internal/pressure"
	"evendraw/internal/series"
)

// Limits of a zero pass.
const (
	// ZeroSeconds is how long a zero pass watches. Chosen: at 1000 frames a
	// second the noise of a mean is then some thousandths of a kPa.
	ZeroSeconds = 5.0
	// zeroMinRate is the fewest samples a second of a pass. Chosen: half of the
	// slowest board of the protocol.
	zeroMinRate = 25
	// zeroMaxSD is the standard deviation above which a channel pulses.
	// Chosen: a quiet sensor and 10 bits give 0.1 kPa; the smallest pulse
	// worth the name (2 kPa peak to peak) gives 0.7.
	zeroMaxSD pressure.KPa = 0.5
	// zeroMaxDrift is the largest change over the pass. Chosen: weather moves
	// 0.001 kPa in 5 s; a hose being blown out or a heating sensor far more.
	zeroMaxDrift pressure.KPa = 0.15
	// zeroMaxRail is the largest share of samples on a rail.
	zeroMaxRail = 0.01
	// A pass that drifts at its end goes on by zeroSlideSeconds at a time up to
	// zeroMaxSeconds, always over the newest ZeroSeconds: hoses that were just taken
	// off settle. Chosen: three times the pass.
	zeroMaxSeconds   = 3 * ZeroSeconds
	zeroSlideSeconds = 1.0
	// noiseRatio is the von Neumann ratio above which a channel is noisy, and up to which it
	// pulses. The ratio is the mean square of the steps from sample to sample over the
	// variance: 2 for white noise, near 0 for pulses at hundreds of samples a second.
	// Chosen between.
	noiseRatio = 1.0
	// ZeroMaxBands is how many error bands of its kind a sensor may stand off the
	// common ambient. Chosen: two sensors at opposite edges stand two bands apart;
	// one more for age.
	ZeroMaxBands = 3
)

// Refusal says why a pass was refused.
type Refusal struct {
	Channel int // -1: the pass as a whole
	Reason  string
}

func (r *Refusal) Error() string {
	if r.Channel < 0 {
		return r.Reason
	}
	return fmt.Sprintf("channel %d %s", r.Channel, r.Reason)
}

// Zero is what a zero pass learned.
type Zero struct {
	// Ambient is the common absolute air pressure. Measured is set when absolute sensors read it.
	// Gauge sensors alone can't: then it is that of the Setup.
	Ambient  pressure.KPa
	Measured bool
	// Offsets by channel: reading minus Ambient.
	Offsets []pressure.KPa
	// Uncertainty is the half-width of the 95 % interval of each offset
	// relative to the others.
	Uncertainty []pressure.KPa
	// Noise is the standard deviation of each channel's samples, with that of the converter's
	// steps.
	Noise   []pressure.KPa
	Samples int
	Seconds float64
}

// ZeroPass learns each sensor's offset from samples taken with the engine off
// and all hoses open to the air. Samples must come from a Setup without
// offsets.
type ZeroPass struct {
	kinds          []Kind
	knownAmbient   pressure.KPa // known, or 0
	assumedAmbient pressure.KPa // what gauge sensors were taken to count from
	times          []float64
	values         [][]float64
	rails          []int
	otherRole      []bool  // channels of another role
	first          float64 // time of the oldest sample kept
	began          float64 // of the first sample
	breaks         int
}

// NewZeroPass returns a pass over the pressure channels of a board; others are
// left aside, their offsets 0. A known ambient is an absolute air pressure from a
// barometer; 0 takes the median of the absolute sensors.
func NewZeroPass(setup Setup, channels []frame.Channel, knownAmbient pressure.KPa) *ZeroPass {
	n := len(channels)
	z := &ZeroPass{knownAmbient: knownAmbient, assumedAmbient: setup.Ambient, values: make([][]float64, n),
		rails:     make([]int, n),
		otherRole: make([]bool, n)}
	for i, c := range channels {
		z.kinds = append(z.kinds, *setup.Kind(i))
		z.otherRole[i] = c.Role != frame.Pressure
	}
	return z
}

// Push takes one sample and reports whether the pass is complete: after ZeroSeconds, or later
// where a channel drifts.
func (z *ZeroPass) Push(s *Sample) (complete bool) {
	if len(z.times) == 0 {
		z.first, z.began = s.Time, s.Time
	} else if s.Break {
		z.breaks++
	}
	if s.Time-z.first > ZeroSeconds {
		if s.Time-z.began > zeroMaxSeconds || !z.mayStillSettle() {
			return true
		}
		z.slide()
	}
	z.times = append(z.times, s.Time-z.first)
	for i := range min(s.N, len(z.values)) {
		z.values[i] = append(z.values[i], float64(s.Absolute[i]))
		if s.Rails[i] != OffRails {
			z.rails[i]++
		}
	}
	return false
}

// mayStillSettle reports whether a drift, and nothing else, stands in the way of a result.
func (z *ZeroPass) mayStillSettle() bool {
	drifts := false
	for i := range z.values {
		if z.otherRole[i] || len(z.values[i]) == 0 {
			continue
		}
		r := z.faultOf(i)
		if r != nil && !z.onlyDrifts(i) {
			return false
		}
		drifts = drifts || r != nil
	}
	return drifts
}

// slide forgets the oldest zeroSlide seconds.
func (z *ZeroPass) slide() {
	n := 0
	for n < len(z.times) && z.times[n] < zeroSlideSeconds {
		n++
	}
	z.times = slices.Delete(z.times, 0, n)
	for i := range z.times {
		z.times[i] -= zeroSlideSeconds
	}
	z.first += zeroSlideSeconds
	for i, v := range z.values {
		z.values[i] = slices.Delete(v, 0, min(n, len(v)))
	}
}

// Progress returns the share of ZeroSeconds seen, 0 to 1; it falls back where a drift makes
// the pass longer.
func (z *ZeroPass) Progress() float64 {
	if len(z.times) == 0 {
		return 0
	}
	return min(z.times[len(z.times)-1]/ZeroSeconds, 1)
}

// Result returns what was learned, or a *Refusal.
func (z *ZeroPass) Result() (Zero, error) {
	if z.breaks > 0 {
		return Zero{}, refuse(-1, "the board started anew in the middle")
	}
	n := len(z.times)
	if n == 0 || z.times[n-1] < 0.9*ZeroSeconds || n < zeroMinRate*ZeroSeconds {
		seconds := 0.0
		if n > 0 {
			seconds = z.times[n-1]
		}
		return Zero{}, refuse(-1, "too little data: %d samples in %.1f s, %g s and %g samples are needed", n, seconds,
			ZeroSeconds,
			zeroMinRate*ZeroSeconds)
	}
	out := Zero{Samples: n, Seconds: z.times[n-1]}
	means := make([]float64, len(z.values))
	var absolute []float64
	used := 0
	out.Uncertainty = make([]pressure.KPa, len(z.values))
	out.Offsets = make([]pressure.KPa, len(z.values))
	out.Noise = make([]pressure.KPa, len(z.values))
	for i, v := range z.values {
		if z.otherRole[i] {
			continue
		}
		if r := z.faultOf(i); r != nil {
			return Zero{}, r
		}
		means[i] = stat.Mean(v, nil)
		used++
		if !z.kinds[i].Gauge {
			absolute = append(absolute, means[i])
		}
		out.Uncertainty[i] = interval(v)
		out.Noise[i] = pressure.KPa(stat.StdDev(v, nil))
	}
	if used == 0 {
		return Zero{}, refuse(-1, "the board has no pressure channel")
	}
	out.Ambient, out.Measured = z.commonAmbient(absolute)
	for i, m := range means {
		if z.otherRole[i] {
			continue
		}
		offset := pressure.KPa(m) - out.Ambient
		if band := ZeroMaxBands * z.kinds[i].Error; offset > band || offset < -band {
			return Zero{}, refuse(i,
				"reads %.1f kPa, %+.1f from the others' %.1f; its data sheet allows ±%.1f, and ±%.1f is the most that "+
					"is taken off: wrong sensor kind, hose not open, or a broken sensor", m, offset, out.Ambient,
				z.kinds[i].Error, band)
		}
		out.Offsets[i] = offset
	}
	if low, high := pressure.StandardAtmosphere(pressure.HighestM/2), pressure.KPa(110); out.Ambient < low ||
		out.Ambient > high {
		return Zero{}, refuse(-1, "the common ambient of %.1f kPa is no air pressure on land (%.0f to %.0f)",
			out.Ambient, low, high)
	}
	return out, nil
}

// commonAmbient returns the common air pressure, and whether it was measured; absolute are the means of the
// absolute sensors.
func (z *ZeroPass) commonAmbient(absolute []float64) (ambient pressure.KPa, measured bool) {
	switch {
	case z.knownAmbient != 0:
		return z.knownAmbient, false
	case len(absolute) > 0:
		return pressure.KPa(series.Median(absolute)), true
	}
	return z.assumedAmbient, false
}

// faultOf returns why channel i can't be zeroed, nil if it can.
func (z *ZeroPass) faultOf(i int) *Refusal {
	v := z.values[i]
	if share := float64(z.rails[i]) / float64(len(v)); share > zeroMaxRail {
		return refuse(i, "is at the end of its range in %.0f %% of the samples: sensor or wire", 100*share)
	}
	sd := pressure.KPa(stat.StdDev(v, nil))
	switch {
	case z.onlyDrifts(i):
		_, slope := fitLine(z.times, v)
		return refuse(i, "drifts by %.2f kPa in %.1f s: hose or heat", slope*z.times[len(v)-1], z.times[len(v)-1])
	case sd > zeroMaxSD && vonNeumann(v) > noiseRatio:
		return refuse(i, "is noisy (%.1f kPa rms): a loose wire, a lead beside the ignition, or a bad supply", sd)
	case sd > zeroMaxSD:
		return refuse(i, "pulses (%.1f kPa rms): is the engine running?", sd)
	}
	return nil
}

// onlyDrifts reports whether channel i drifts, and is quiet but for that.
func (z *ZeroPass) onlyDrifts(i int) bool {
	v := z.values[i]
	_, slope := fitLine(z.times[:len(v)], v)
	drift := pressure.KPa(slope * z.times[len(v)-1])
	return (drift > zeroMaxDrift || drift < -zeroMaxDrift) && pressure.KPa(residualSD(z.times[:len(v)], v)) <= zeroMaxSD
}

// residualSD returns the standard deviation of v about its straight line over t.
func residualSD(t, v []float64) float64 {
	intercept, slope := fitLine(t, v)
	sum := 0.0
	for i, y := range v {
		r := y - intercept - slope*t[i]
		sum += r * r
	}
	return math.Sqrt(sum / float64(len(v)))
}

// vonNeumann returns the mean square of the steps of v over its variance.
func vonNeumann(v []float64) float64 {
	sum := 0.0
	for i := 1; i < len(v); i++ {
		d := v[i] - v[i-1]
		sum += d * d
	}
	return sum / float64(len(v)-1) / stat.Variance(v, nil)
}

// interval returns the half-width of the 95 % interval of the mean of v. It is from the
// scatter of ten blocks, as the noise of samples may be correlated.
func interval(v []float64) pressure.KPa {
	const blocks = 10
	size := len(v) / blocks
	means := make([]float64, blocks)
	for b := range means {
		means[b] = stat.Mean(v[b*size:(b+1)*size], nil)
	}
	_, half := series.MeanInterval(means)
	return pressure.KPa(half)
}
