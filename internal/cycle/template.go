package cycle

import (
	"math"
	"slices"
)

// Constants of the template: what a cycle of each cylinder looks like.
const (
	// bins is how many bins of the template make a cycle. Chosen: about a sample each at
	// idle.
	bins = 128
	// renewShare is the share by which a new cycle renews the template. Chosen: the
	// noise falls to a quarter, and a screw's turn is followed in a second.
	renewShare = 0.1
	// modeShare is the share by which a boundary renews the mode. Chosen.
	modeShare = 0.03
	// firstModeShare is the same at first, and modeDecay its fall with each cycle. Measured:
	// at 0.5 some lumpy engines are lost in the first seconds.
	firstModeShare, modeDecay = 0.2, 0.03
	// dipShare is the share of the swing, from the lowest up, that counts as the dip. Chosen.
	dipShare = 0.2
	// measureEvery is every how many cycles the shape is measured. Chosen.
	measureEvery = 4
	// maxUnitChange is the change of a dip's depth, as a share, beyond which its strength is
	// learned anew. Chosen.
	maxUnitChange = 0.25
	// depthSD is what dips are taken to scatter by at first, as a share. Chosen.
	depthSD = 0.15
)

// windowBins is how many bins the window of a match reaches to each side of the boundary.
const windowBins = bins * windowPercent / 100

// curve is a figure a bin, from one end of the cycle to the other, both included.
type curve = [bins + 1]float64

// template holds the shape of a cycle from one boundary to the next, straight from bin to bin.
// The first bin is repeated as the last, for interpolation.
type template struct {
	kpa []*curve // by cylinder
	// mode is how the half cycle around the boundary changes with the strength of the
	// dip next to it, tail with that of the dip before, by cylinder and bin; spread
	// is the mean square of the mode's share.
	mode, tail []*curve
	spread     []float64
	strength   [MaxCylinders]strength
	common     float64 // mean square of what is common to all strengths
	openCommon float64 // variance of what was taken out of it: see removeCommon
	known      int     // how many strengths are known now
	// expected is kpa + now mode + before tail, with the strengths at this boundary.
	expected [MaxCylinders]curve
	// power is the weighted variance of the half cycle around the boundary, by cylinder.
	power      []float64
	dip        []float64 // where in the cycle each dip is, 0 to below 1
	cycles     int       // learned
	cyclesHeld int       // how many true cycles it holds: see countCycles

	positions          []binPosition // of a cycle's samples
	weight, share, add curve
}

// binPosition is where a sample lies: after a bin, by share u of the way to the next.
type binPosition struct {
	bin int
	u   float64
}

func newTemplate(cylinders int) *template {
	t := &template{}
	for range cylinders {
		t.kpa = append(t.kpa, new(curve))
		t.mode = append(t.mode, new(curve))
		t.tail = append(t.tail, new(curve))
	}
	t.spread = make([]float64, cylinders)
	t.dip = make([]float64, cylinders)
	t.power = make([]float64, cylinders)
	return t
}

// takeShape sets the template to the one period from start on.
func (t *template) takeShape(h *history, start, period float64) {
	t.cycles, t.cyclesHeld, t.common = 1, 1, 0
	t.strength = [MaxCylinders]strength{}
	for k := range bins + 1 {
		i, share := h.find(start + period*float64(k)/bins)
		for c := range t.kpa {
			t.kpa[c][k] = h.value(c, i, share)
		}
	}
	for _, k := range t.kpa {
		k[0] = (k[0] + k[bins]) / 2
		k[bins] = k[0]
	}
}

// rotate moves the boundary by so many bins; the modes begin anew.
func (t *template) rotate(by int) {
	var turned [bins]float64
	for _, k := range t.kpa {
		for i := range bins {
			turned[i] = k[(i+by)%bins]
		}
		copy(k[:], turned[:])
		k[bins] = k[0]
	}
	t.resetModes()
}

// learn renews the template with the samples of one cycle, whose period changes by share bend
// from one cycle to the next; a cycle with excessMisfit counts more.
func (t *template) learn(h *history, start, period, bend, excessMisfit float64) {
	t.cycles++
	rate := max(renewShare+excessMisfit, 1/float64(t.cycles))
	i0, _ := h.find(start)
	i1, _ := h.find(start + period)
	if i1-i0 < bins/2 {
		t.learnSparse(h, start, period, bend, rate)
		t.measureIfDue()
		return
	}
	t.locateSamples(h, i0+1, i1+1, start, period, bend)
	for b, w := range t.weight {
		t.share[b] = rate / max(w, 1)
	}
	for c, k := range t.kpa {
		t.add = curve{}
		add, was := &t.add, t.expectedBeforeLast(c)
		values := h.kpa[c][i0+1:][:len(t.positions)]
		for n, p := range t.positions {
			at := p.bin & (bins - 1)
			r := values[n] - was[at] - p.u*(was[at+1]-was[at])
			add[at] += r * (1 - p.u)
			add[at+1] += r * p.u
		}
		t.add[0] += t.add[bins]
		t.add[bins] = t.add[0]
		for b := range k {
			k[b] += t.share[b] * t.add[b]
		}
	}
	t.measureIfDue()
}

// expectedBeforeLast returns the expected course of the cycle before the last, with the dips'
// strengths at both of its ends, so that they do not get into the template. (Where samples are
// few, learnSparse lets them in.)
func (t *template) expectedBeforeLast(c int) *curve {
	t.expected[c] = *t.kpa[c]
	t.composeBins(c, 0, windowBins, t.strength[c].earlier[1])
	t.composeBins(c, bins-windowBins, bins, t.strength[c].earlier[0])
	return &t.expected[c]
}

// measureIfDue measures the shape every few cycles: it changes slowly.
func (t *template) measureIfDue() {
	if t.cycles < measureEvery || t.cycles%measureEvery == 0 {
		t.measure()
		t.cyclesHeld = t.countCycles()
	}
}

// measure works out power and dip of each cylinder.
func (t *template) measure() {
	for c, k := range t.kpa {
		var w, s, q float64
		for i := -windowBins; i < windowBins; i++ {
			near := 1 - float64(i*i)/float64(windowBins*windowBins)
			v := k[(i+bins)%bins] - k[0]
			w += near
			s += near * v
			q += near * v * v
		}
		t.power[c] = (q - s*s/w) / w
		low, at, high := extremes(k[:bins])
		t.dip[c] = dipMiddle(k, at, low+dipShare*(high-low))
		if unit := meanOf(k) - low; math.Abs(unit-t.strength[c].unit) > maxUnitChange*t.strength[c].unit {
			t.resetMode(c) // a hose that was put on, a throttle that was opened
		}
	}
}

// dipMiddle returns where in the cycle the dip is whose lowest is at bin b: the middle of what lies below limit.
func dipMiddle(k *curve, b int, limit float64) float64 {
	var s, w float64
	for i := -bins / 6; i <= bins/6; i++ {
		deep := max(0, limit-k[(b+i+bins)&(bins-1)])
		s += deep * float64(i)
		w += deep
	}
	if w <= 0 {
		return float64(b) / bins
	}
	return math.Mod((float64(b)+s/w)/bins+1, 1)
}

// resetModes sets the modes to what is expected before anything is learned: a strong dip is a
// usual one times a factor.
func (t *template) resetModes() {
	for c := range t.kpa {
		t.resetMode(c)
	}
	t.compose()
	t.measure()
}

// meanOf returns the mean of a curve over a cycle.
func meanOf(k *curve) (mean float64) {
	for _, v := range k[:bins] {
		mean += v / bins
	}
	return mean
}

// resetMode does so for one cylinder, and takes the unit of its strength anew.
func (t *template) resetMode(c int) {
	k, s := t.kpa[c], &t.strength[c]
	mean := meanOf(k)
	for b := range t.mode[c] {
		t.mode[c][b] = k[b] - mean
		t.tail[c][b] = 0
	}
	*s = strength{unit: mean - slices.Min(k[:]), usual: s.usual, dips: s.dips, square: s.square}
	t.spread[c] = depthSD * depthSD
}

// learnSparse is learn where samples are much fewer than bins. It reads the bins off the course
// between the samples: else bins that no sample falls on would grow old, and the boundary would
// cling to the samples.
func (t *template) learnSparse(h *history, start, period, bend, rate float64) {
	i, _ := h.find(start)
	var course [MaxCylinders]cubic
	for b, done := 0, -1; b < bins; b++ {
		y := float64(b) / bins
		at := start + period*(y-bend/2*y*(1-y))
		for i < h.count-2 && h.at(i+1) <= at {
			i++
		}
		if i != done { // some bins lie between two samples
			for c := range t.kpa {
				course[c] = h.cubic(c, i)
			}
			done = i
		}
		share := (at - h.at(i)) / (h.at(i+1) - h.at(i))
		for c, k := range t.kpa {
			k[b] += rate * (course[c].at(share) - k[b])
		}
	}
	for _, k := range t.kpa {
		k[bins] = k[0]
	}
}

// locateSamples finds where each sample lies in the template. The crank goes evenly in time but
// for the change of the period: x = tau + bend/2 tau (1 - tau), tau = (time - start)/period.
func (t *template) locateSamples(h *history, from, to int, start, period, bend float64) {
	t.positions = t.positions[:0]
	t.weight = curve{}
	scale := 1 / period
	for i := from; i < to; i++ {
		x := (h.time[i] - start) * scale
		x = (x + bend/2*x*(1-x)) * bins
		b := min(int(x), bins-1)
		u := x - float64(b)
		t.weight[b] += 1 - u
		t.weight[b+1] += u
		t.positions = append(t.positions, binPosition{b, u})
	}
	t.weight[0] += t.weight[bins]
	t.weight[bins] = t.weight[0]
}
