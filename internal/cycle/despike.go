package cycle

import "math"

// Constants of the removal of spikes. Ignition disturbs a line at once and dies
// away within a few milliseconds; a runner's pressure can do neither, its hose
// is in the way. A spike is therefore a jump off the course of the samples
// before it, after which the samples come back to a course that goes on
// smoothly.
const (
	// spikeSeconds is how long a spike may last. Chosen: five decays of 0.5 ms.
	spikeSeconds = 2.5e-3
	// tailSeconds is what more is taken off behind a spike. Chosen.
	tailSeconds = 0.7e-3
	// spikeMost is the same in samples; more are left alone.
	spikeMost = 14
	// before and after are the samples that the course on each side is taken
	// from.
	before, after = 3, 2
	// usualShare is the share by which a sample renews what is usual.
	usualShare = 1.0 / 64
	// jump times the usual departure from the course, and jumpKPa at least, is
	// a jump. Chosen: a sensor's noise of 0.08 kPa is a fifth of jumpKPa.
	jump    = 5.0
	jumpKPa = 0.4
	// Where samples are nearer than fineStep, s, so that several fall on a spike,
	// fineJump times the usual departure and jump times that from the nearer of line and
	// parabola is a jump. Measured: on steep and on bent courses a spike that is sampled
	// late stands out by no more.
	fineStep = 2e-3
	fineJump = 2.0
	// wildKPa is the usual departure above which nothing is taken for a spike:
	// there are too few samples in a cycle. Chosen.
	wildKPa = 1.2
	// usualNoise is the usual departure that white noise of 1 makes, derived:
	// sqrt(1 + 1.5² + 0.5²) times the mean of a half normal. noiseMost bounds what
	// is taken for noise, kPa.
	usualNoise = 1.49
	noiseMost  = 0.15
	// clip bounds what one sample adds to the usual, in usual departures.
	clip = 4.0
)

// despike replaces spikes in a history, a few samples behind its newest.
type despike struct {
	usual [MaxCylinders]float64 // departure from the course, kPa
	least [MaxCylinders]float64 // the same from the nearer of a line and a parabola
	free  [MaxCylinders]int     // first sample not yet looked at
	most  int                   // longest spike in samples
	tail  int                   // samples that its tail outlasts what is seen of it
}

func (d *despike) reset(first int) {
	for c := range d.free {
		d.free[c], d.usual[c], d.least[c] = first+before, jumpKPa/jump, jumpKPa/jump
	}
	d.most = 0
}

// delay is how many samples at the end of the history may yet change.
func (d *despike) delay() int { return d.most + d.tail + after }

// noise returns the variance of the samples' noise, of so many cylinders together
// in kPa²; where flanks are steep it can't be told, and little is taken.
func (d *despike) noise(cylinders int) (sum float64) {
	for c := range cylinders {
		sum += d.sigma(c) * d.sigma(c)
	}
	return sum
}

// sigma is the standard deviation of a cylinder's noise, kPa.
func (d *despike) sigma(c int) float64 { return min(d.usual[c]/usualNoise, noiseMost) }

// step looks at the one sample that has got enough neighbours.
func (d *despike) step(h *history) {
	if h.count&31 == 8 || d.most == 0 { // now and then; the rate hardly changes
		d.most = min(int(math.Ceil(spikeSeconds/h.step)), spikeMost)
		d.tail = min(int(math.Round(tailSeconds/h.step)), spikeMost/4)
	}
	i := h.count - 1 - d.delay()
	if i < before {
		return
	}
	a, b, m, e := i&h.mask, (i-1)&h.mask, (i-2)&h.mask, (i-before)&h.mask
	for c, k := range h.kpa {
		// Off the straight line through the samples before it, and off their parabola:
		// on flanks the one, where they bend the other is nearer.
		off := math.Abs(k[a] - k[b] - (k[b]-k[e])/(before-1))
		near := min(off, math.Abs(k[a]-k[e]-3*(k[b]-k[m])))
		usual, least := d.usual[c], d.least[c]
		out, stands := off, jump*usual+jumpKPa
		if h.step < fineStep {
			out, stands = near, max(jump*least, fineJump*usual)+jumpKPa
		}
		if out > stands && usual < wildKPa && i >= d.free[c] {
			d.mend(h, k, i, c, jump/2*usual+jumpKPa/2, stands)
		}
		d.usual[c] = usual + usualShare*(bounded(off, usual)-usual)
		d.least[c] = least + usualShare*(bounded(near, least)-least)
	}
}

// bounded returns a departure, bounded by what is usual.
func bounded(off, usual float64) float64 {
	if most := clip*usual + jumpKPa/jump; off > most {
		return most
	}
	return off
}

// mend looks whether the samples from i on are a spike, and if so replaces them
// by a course that joins both sides.
func (d *despike) mend(h *history, k []float64, i, c int, limit, stands float64) {
	v := func(n int) float64 { return k[n&h.mask] }
	s0 := (v(i-1) - v(i-before)) / (before - 1)
	for n := 1; n <= d.most; n++ {
		j := i + n // first sample after the spike
		s1 := (v(j+after-1) - v(j)) / (after - 1)
		p0, p1, span := v(i-1), v(j), float64(n+1)
		if math.Abs((p1-p0)/span-(s0+s1)/2) > limit/2 || math.Abs(s1-s0) > limit*span {
			continue
		}
		// The spike must stand out against what replaces it.
		if first := p0 + (p1-p0)/span; math.Abs(v(i)-first) < stands {
			continue
		}
		// A tail is left in the samples after it.
		n += d.tail
		j += d.tail
		s1 = (v(j+after-1) - v(j)) / (after - 1)
		p1, span = v(j), float64(n+1)
		for m := range n {
			x := float64(m+1) / span
			k[(i+m)&h.mask] = p0 + x*(p1-p0) + x*(1-x)*((1-x)*(s0*span-p1+p0)-x*(s1*span-p1+p0))
		}
		d.free[c] = j
		return
	}
}
