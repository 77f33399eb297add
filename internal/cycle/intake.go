package cycle

import (
	"math"
	"slices"

	"evendraw/internal/nozzle"
)

// Constants of the match by the volumes that the cylinders take in. A runner's pressure P, a ratio to ambient, falls by
// the volume V that its cylinder takes in, in volumes of the runner, and rises by what comes through its butterfly:
//
//	P'/P = pace psi(P)/P - V'
//	V = pace ∫ psi(P)/P dt - ln P
//
// V stands still while the valve is shut and rises in the intake stroke. A strong dip is a usual
// one times its strength in V, while it bends the flanks of the pressure more than that. The lag
// of hose and sensor is undone in P beforehand. Where any of this fails, pressures are matched.
const (
	// volumeUnit is what one volume of the runner counts as, kPa, so that noise in V is
	// about noiseKPa too. Chosen: the pressure of an idle.
	volumeUnit = 80.0
	// volumeSize is the most samples of a window. Chosen: 5000 samples a second at 400 rpm.
	volumeSize = 1024
	// minVolumeSamples is the fewest samples in a cycle. Measured: with 28 and with 40 in
	// an idle's cycle volumes are as exact as pressures, with 57 more exact.
	minVolumeSamples = 32
	// maxMove is how far a boundary may lie from its prediction, in cycles, and windowMargin
	// what is worked out on either side of the window, which moves and stretches. Chosen.
	maxMove      = 0.05
	windowMargin = 0.09
	// volumesBeyond is how many samples beyond that have volumes too: of a boundary that comes late, where samples
	// are few, the last bins lie between those. Measured: at 34 samples a cycle up to 1.1 samples.
	volumesBeyond = 2
	// maxStepRatio is the longest step from sample to sample, in usual ones. Measured, with
	// up to three samples missing now and then: a difference at a lumpy idle is 0.019 to
	// 0.023 kPa off, by pressures 0.025 to 0.028.
	maxStepRatio = 4.5
	// slopeSeconds is how far to each side the samples lie that give the pressure's slope. Measured: from 1 to 4 ms all
	// is as exact, but rests of ignition spikes weigh less the longer it is.
	slopeSeconds = 4e-3
	// lagRate is the share of a change of a hose's lag that is followed at each boundary.
	// Chosen: a change by 1 ms then moves the volumes by a twentieth of a bin.
	lagRate = 0.05
	// maxResidual is the largest residual variance, as a share of the volumes' own. Chosen. Measured: 0.00005 as a
	// median, 0.0014 at most with misfires, 0.005 at 250 samples a second.
	maxResidual = 0.01
	// volumeCells is the size of volumeTable, which goes up to volumeTop of ambient. Chosen: a straight line between
	// cells is right to 5e-5 from a fifth of ambient to 0.99 of it; beyond, little flows.
	volumeCells = 1024
	volumeTop   = 1.125
)

// volumeTable is psi(P)/P and ln P.
var volumeTable [volumeCells + 1]volumeCell

type volumeCell struct{ flow, log float64 }

func volumes() (t [volumeCells + 1]volumeCell) {
	for i := range t {
		r := max(float64(i), 0.5) * volumeTop / volumeCells
		t[i].flow, t[i].log = nozzle.Flow(r)/r, math.Log(r)
	}
	return t
}

// intake matches boundaries by those volumes, of the cylinders whose refill has a known pace. The volumes are free of
// the hoses' lags, and so are the boundaries in them: in the pressures boundaries come later by commonLag.
type intake struct {
	ambient   float64
	pace      [MaxCylinders]float64               // of each refill, 1/s; 0 is unknown
	lag       [MaxCylinders]float64               // of each hose, s
	commonLag float64                             // s
	from, end int                                 // samples from one until before the other have volumes
	volume    [MaxCylinders][]float64             // V by sample
	usual     [MaxCylinders]curve                 // usual V around the boundary, by bin
	cycles    [MaxCylinders]int                   // that usual is the mean of
	share     [MaxCylinders]float64               // by which each dip of the last match is stronger
	residual  float64                             // of the last round, as a share of the volumes' variance
	missed    int                                 // boundaries in a row whose volumes can't be worked out
	upset     bool                                // those of the last boundary don't fit, of many before they did
	rate      [volumeSize + volumesBeyond]float64 // by sample: 1 over the time between the samples of a slope
	placed    [2*windowBins + 1]place             // by bin: where its volume is read off
	left      [2*windowBins + 1]float64           // by bin: what usual leaves of V in learnOne
}

// place is between two volumes: after one, by share u of the way to the next.
type place struct {
	after int
	u     float64
}

func newIntake(cylinders int) *intake {
	m := &intake{}
	for c := range cylinders {
		m.volume[c] = make([]float64, 0, volumeSize+volumesBeyond)
	}
	return m
}

// reset forgets everything: another boundary is followed.
func (m *intake) reset() {
	m.pace = [MaxCylinders]float64{}
	m.forgetUsual()
}

// forgetUsual forgets the usual volumes: the next boundary is found by the pressures, and may lie
// a little off those that the volumes were learned around.
func (m *intake) forgetUsual() { m.cycles = [MaxCylinders]int{} }

// setRefill takes the pace of a cylinder's refill, 1/s, 0 when it is unknown, and the lag of its
// hose, s; period is the cycle's. Without a pace the usual volumes are forgotten. With another
// lag they are shifted, or the boundary would move.
func (m *intake) setRefill(c int, pace, lag, period float64) {
	if m.pace[c] = pace; pace <= 0 {
		m.cycles[c] = 0
	}
	if m.cycles[c] == 0 {
		m.lag[c] = lag
		return
	}
	by := lagRate * (lag - m.lag[c])
	m.lag[c] += by
	m.shiftEarlier(c, by/period*bins)
}

// shiftEarlier shifts the usual volumes of cylinder c earlier, by far less than a bin.
func (m *intake) shiftEarlier(c int, by float64) {
	k := &m.usual[c]
	before := k[bins-windowBins]
	for b := bins - windowBins + 1; b < bins+windowBins; b++ {
		now := k[b&(bins-1)]
		k[b&(bins-1)] += by / 2 * (k[(b+1)&(bins-1)] - before)
		before = now
	}
	k[bins] = k[0]
}

// usable reports whether enough cylinders, of four all but one, have usual volumes and still
// draw: without the second, a dead channel would fit perfectly with a strength of 0.
func (m *intake) usable(cylinders int) bool {
	n := 0
	for c := range cylinders {
		if m.cycles[c] > 0 && m.share[c] > -maxWeaker {
			n++
		}
	}
	return n >= cylinders-cylinders/4
}

// computeVolumes works out the volumes around t. ok is false when there are too many samples or too few, or
// too many in a row are missing.
func (m *intake) computeVolumes(h *history, t, period float64) (ok bool) {
	i0, _ := h.find(t - (halfWindow+windowMargin)*period)
	i1, _ := h.find(t + (halfWindow+windowMargin)*period)
	apart := max(1, int(slopeSeconds/h.step+0.5))
	if i1-i0 >= volumeSize || i1-i0 < minLearnSamples || i0-apart < h.first() || i1+apart >= h.count {
		return false
	}
	m.from, m.end = i0, min(i1+1+volumesBeyond, h.count-apart)
	for i := i0; i < m.end; i++ {
		if i <= i1 && h.at(i)-h.at(i-1) > maxStepRatio*h.step {
			return false
		}
		m.rate[i-i0] = 1 / (h.at(i+apart) - h.at(i-apart))
	}
	for c := range h.kpa {
		if m.pace[c] > 0 {
			m.computeVolume(h, c, apart)
		}
	}
	return true
}

// computeVolume works out those of cylinder c, by trapezoids. The lag is undone by P = y + lag y',
// the slope y' being between the samples so many apart on either side.
func (m *intake) computeVolume(h *history, c, apart int) {
	scale, half := volumeCells/volumeTop/m.ambient, m.pace[c]/2
	n := m.end - m.from
	kpa, time, rate := h.kpa[c][m.from:m.end], h.time[m.from:][:n], m.rate[:n]
	earlier, later := h.kpa[c][m.from-apart:][:n], h.kpa[c][m.from+apart:][:n]
	volume := m.volume[c][:n]
	m.volume[c] = volume
	through, before, then := 0.0, 0.0, time[0]
	lag := m.lag[c]
	for i, y := range kpa {
		x := (y + lag*(later[i]-earlier[i])*rate[i]) * scale
		if !(x > 0) {
			x = 0
		} else if x > volumeCells-1 {
			x = volumeCells - 1
		}
		cell := int(x)
		u := x - float64(cell)
		a, b := &volumeTable[cell], &volumeTable[cell+1]
		flow, now := a.flow+u*(b.flow-a.flow), time[i]
		through += half * (now - then) * (before + flow)
		before, then = flow, now
		volume[i] = volumeUnit * (through - a.log - u*(b.log-a.log))
	}
}

// boundary finds the time of the boundary near t. ok is false when there are no volumes, or they
// don't fit: the usual ones are then forgotten, at once or when that goes on.
func (m *intake) boundary(f *fit, h *history, t, period float64) (at float64, ok bool) {
	m.upset = false
	if !m.usable(len(h.kpa)) || period < minVolumeSamples*h.step {
		m.forgetUsual()
		return 0, false
	}
	t -= m.commonLag
	if !m.computeVolumes(h, t, period) {
		if m.missed++; m.missed > maxMisses {
			m.forgetUsual()
		}
		return 0, false
	}
	m.missed = 0
	at = f.settle(h, t, period, func(stretch float64) (float64, float64) {
		if f.first < m.from || f.first+(f.n-1)*f.every >= m.end {
			return 0, 0 // farther off than maxMove
		}
		return m.solve(f, len(h.kpa), stretch)
	})
	if m.residual > maxResidual || math.Abs(at-t) > maxMove*period || !m.usable(len(h.kpa)) {
		m.upset = slices.Max(m.cycles[:]) >= learnAllCycles
		m.forgetUsual()
		return 0, false
	}
	return at + m.commonLag, true
}

// solve does one round of least squares, as fit.solve does: the usual volumes are their own mode.
func (m *intake) solve(f *fit, cylinders int, stretch float64) (move, more float64) {
	var all sums
	left, power := 0.0, 0.0
	f.sharpen()
	for c := range cylinders {
		if m.cycles[c] == 0 {
			continue
		}
		s := f.sums(m.volume[c][f.first-m.from:], &m.usual[c], &m.usual[c])
		s.centre()
		power += s.mm
		left += s.rr
		rm := s.rm
		m.share[c] = s.eliminateMode(depthSD * depthSD)
		left -= rm * m.share[c]
		all.accumulate(&s, false)
	}
	m.residual = left / (power + 1e-9)
	return all.solve(stretch)
}

// restart learns the usual volumes around a boundary at t that the pressures have shown, unless some are known.
func (m *intake) restart(f *fit, h *history, t, period float64) {
	if m.cycles != [MaxCylinders]int{} {
		return
	}
	m.commonLag = meanLag(len(h.kpa), func(c int) float64 { return m.lag[c] })
	if m.computeVolumes(h, t-m.commonLag, period) {
		m.learn(f, h, t, period)
	}
}

// learn renews the usual volumes with those around the boundary that was found last.
func (m *intake) learn(f *fit, h *history, t, period float64) {
	placed := false
	for c := range h.kpa {
		if m.pace[c] <= 0 {
			continue
		}
		if m.cycles[c] == 0 {
			m.share[c], m.usual[c] = 0, curve{}
		}
		if m.cycles[c]++; m.cycles[c] < learnAllCycles || m.cycles[c]%2 == 0 {
			if !placed {
				m.placeBins(h, t-m.commonLag, period*f.stretch/bins)
				placed = true
			}
			m.learnOne(c)
		}
	}
}

// placeBins places the bins around t, which are step seconds apart.
func (m *intake) placeBins(h *history, t, step float64) {
	i, _ := h.find(t - windowBins*step)
	i = max(i, m.from+1)
	for b := range m.placed {
		at := t + float64(b-windowBins)*step
		for h.at(i+1) <= at && i < m.end-3 {
			i++
		}
		m.placed[b] = place{i - m.from, (at - h.at(i)) / (h.at(i+1) - h.at(i))}
	}
}

// learnOne renews those of cylinder c. A small part of the dip's strength is left in what is
// learned, so that the usual strength is learned too.
func (m *intake) learnOne(c int) {
	k, v := &m.usual[c], m.volume[c]
	rate, strength := max(renewShare, 1/float64(m.cycles[c])), 1+(1-renewShare)*m.share[c]
	level := 0.0
	for b, p := range m.placed {
		r := volumeAt(v[p.after-1:][:4], p.u) - strength*k[(b-windowBins)&(bins-1)]
		m.left[b] = r
		level += r / float64(len(m.left))
	}
	for b, r := range m.left {
		k[(b-windowBins)&(bins-1)] += rate * (r - level)
	}
	k[bins] = k[0]
}

// volumeAt returns the volume at share u of the way from the second of four volumes to the third, by a cubic
// whose slopes are taken from the neighbours.
func volumeAt(v []float64, u float64) float64 {
	p, q := v[1], v[2]
	s0, s1 := (q-v[0])/2, (v[3]-p)/2
	d := q - p
	return p + u*(s0+u*(3*d-2*s0-s1+u*(s0+s1-2*d)))
}
