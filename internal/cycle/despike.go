package cycle

import "math"

// Constants of the removal of spikes. Ignition disturbs a line at once and dies
// away within a few milliseconds. A runner's pressure can't: its hose smooths it.
// So a spike is a jump off the course of the samples before it, after which the
// samples go on smoothly where that course would have led.
const (
	// spikeSeconds is how long a spike may last, and maxSpikeSamples the same in
	// samples; longer ones are left alone. Chosen: five decays of 0.5 ms.
	spikeSeconds    = 2.5e-3
	maxSpikeSamples = 14
	// tailSeconds is what is replaced behind the end of a spike. Chosen.
	tailSeconds = 0.7e-3
	// samplesBefore and samplesAfter are how many samples on either side of a spike
	// give the course there.
	samplesBefore, samplesAfter = 3, 2
	// usualShare is the share by which a sample renews the usual departure.
	usualShare = 1.0 / 64
	// A departure from the course of jumpRatio times the usual one plus jumpKPa is a
	// jump. Chosen: a sensor's noise of 0.08 kPa is a fifth of jumpKPa.
	jumpRatio = 5.0
	jumpKPa   = 0.4
	// Where samples are less than fineStep apart, s, several fall on a spike. There
	// jumpRatio goes with the nearer of line and parabola, and fineJumpRatio with the
	// line. Measured: on steep and on bent courses a spike that is sampled late stands
	// out by no more.
	fineStep      = 2e-3
	fineJumpRatio = 2.0
	// maxUsualKPa is the usual departure from which on nothing is taken for a spike:
	// a cycle has too few samples. Chosen.
	maxUsualKPa = 1.2
	// usualNoise is the usual departure that white noise of 1 makes. Derived:
	// sqrt(1 + 1.5² + 0.5²) times the mean of a half normal. maxNoiseKPa is the most
	// that is taken for noise.
	usualNoise  = 1.49
	maxNoiseKPa = 0.15
	// maxDeparture bounds what one sample adds to the usual, in usual departures.
	maxDeparture = 4.0
)

// despike replaces spikes in a history, a few samples behind its newest.
type despike struct {
	usual    [MaxCylinders]float64 // usual departure from the line before a sample, kPa
	nearest  [MaxCylinders]float64 // the same from the nearer of line and parabola
	unseen   [MaxCylinders]int     // first sample that no spike before it has replaced
	next     int                   // first sample not yet looked at
	maxSpike int                   // longest spike, samples
	tail     int                   // what is replaced behind a spike, samples
}

func (d *despike) reset() {
	for c := range d.unseen {
		d.unseen[c], d.usual[c], d.nearest[c] = samplesBefore, jumpKPa/jumpRatio, jumpKPa/jumpRatio
	}
	d.next, d.maxSpike, d.tail = samplesBefore, 0, 0
}

// renumber takes note that samples have numbers less by so much from now on.
func (d *despike) renumber(by int) {
	d.next = max(d.next-by, samplesBefore)
	for c := range d.unseen {
		d.unseen[c] -= by
	}
}

// delay is how many samples at the end of the history may yet change.
func (d *despike) delay() int { return d.maxSpike + d.tail + samplesAfter }

// noise returns the variance of the samples' noise, kPa², added up over cylinders. Steep
// flanks hide the noise: maxNoiseKPa bounds it.
func (d *despike) noise(cylinders int) (sum float64) {
	for c := range cylinders {
		sum += d.sigma(c) * d.sigma(c)
	}
	return sum
}

// sigma is the standard deviation of a cylinder's noise, kPa.
func (d *despike) sigma(c int) float64 { return min(d.usual[c]/usualNoise, maxNoiseKPa) }

// noteRate takes note, after each sample, of how long a spike may last at the rate that they come at.
func (d *despike) noteRate(h *history) {
	if h.count&31 != 8 && d.maxSpike > 0 { // now and then; the rate hardly changes
		return
	}
	longest := min(int(math.Ceil(spikeSeconds/h.step)), maxSpikeSamples)
	tail := min(int(math.Round(tailSeconds/h.step)), maxSpikeSamples/4)
	if longest == d.maxSpike && tail == d.tail {
		return
	}
	if d.maxSpike > 0 {
		d.advance(h, h.count-2-d.delay())
	}
	d.maxSpike, d.tail = longest, tail
	d.next = max(h.count-1-d.delay(), samplesBefore)
}

// advance looks at all samples up to last, which must have delay samples after it, that it has not looked at.
func (d *despike) advance(h *history, last int) {
	first, delay := d.next, d.delay()
	if first > last {
		return
	}
	d.next = last + 1
	for c, k := range h.kpa {
		usual, least := d.usual[c], d.nearest[c]
		b, m, e := k[first-1], k[first-2], k[first-samplesBefore]
		for i := first; i <= last; i++ {
			// Off the straight line through the samples before it, which is nearer on flanks,
			// and off their parabola, which is nearer where they bend.
			a := k[i]
			off := math.Abs(a - b - (b-e)/(samplesBefore-1))
			near := min(off, math.Abs(a-e-3*(b-m)))
			out, stands := off, jumpRatio*usual+jumpKPa
			if h.flags[i+delay]&fineFlag != 0 {
				out, stands = near, jumpRatio*least+jumpKPa
			}
			if out > stands && usual < maxUsualKPa && i >= d.unseen[c] {
				if stands = max(stands, fineJumpRatio*usual+jumpKPa); out > stands {
					d.removeSpike(k, i, c, jumpRatio/2*usual+jumpKPa/2, stands)
					a = k[i]
				}
			}
			b, m, e = a, b, m
			usual += usualShare * (clipDeparture(off, usual) - usual)
			least += usualShare * (clipDeparture(near, least) - least)
		}
		d.usual[c], d.nearest[c] = usual, least
	}
}

// clipDeparture bounds what a departure counts for in the usual one.
func clipDeparture(off, usual float64) float64 {
	if most := maxDeparture*usual + jumpKPa/jumpRatio; off > most {
		return most
	}
	return off
}

// removeSpike replaces the samples from i on by a course that joins both sides, if they are
// a spike: if some n samples later the course goes on within limit, and what replaces sample i
// is at least stands away from it.
func (d *despike) removeSpike(k []float64, i, c int, limit, stands float64) {
	s0 := (k[i-1] - k[i-samplesBefore]) / (samplesBefore - 1)
	for n := 1; n <= d.maxSpike; n++ {
		j := i + n // first sample after the spike
		s1 := (k[j+samplesAfter-1] - k[j]) / (samplesAfter - 1)
		p0, p1, span := k[i-1], k[j], float64(n+1)
		if math.Abs((p1-p0)/span-(s0+s1)/2) > limit/2 || math.Abs(s1-s0) > limit*span {
			continue
		}
		if first := p0 + (p1-p0)/span; math.Abs(k[i]-first) < stands {
			continue
		}
		n += d.tail
		j += d.tail
		s1 = (k[j+samplesAfter-1] - k[j]) / (samplesAfter - 1)
		p1, span = k[j], float64(n+1)
		for m := range n {
			x := float64(m+1) / span
			k[i+m] = p0 + x*(p1-p0) + x*(1-x)*((1-x)*(s0*span-p1+p0)-x*(s1*span-p1+p0))
		}
		d.unseen[c] = j
		return
	}
}
