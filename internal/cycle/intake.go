package cycle

import "math"

// Constants of the match by the volumes that the cylinders take in. A runner's pressure P
// falls by the volume V that its cylinder takes, however dense that is, and rises by what
// comes through its butterfly. P being a ratio to ambient, V in volumes of the runner:
//
//	P'/P = pace psi(P)/P - V'
//
// So V = pace ∫ psi(P)/P dt - ln P stands still while the valve is shut, and rises in the
// intake stroke. With a strong dip all of its course is that of a usual one times the
// dip's strength, while the pressure's flanks bend by more than that. The lag of hose and
// sensor is undone before.
const (
	// volumeUnit is what a volume of the runner counts as, kPa, for the samples' noise to
	// be about noiseKPa here too. Chosen: pressures of an idle.
	volumeUnit = 80.0
	// volumeSize is the most samples that are laid out, a power of two; where a window has
	// more, the pressure is matched. Chosen: 5000 samples a second at 400 rpm.
	volumeSize = 1024
	// volumeLeast is the fewest samples in a cycle. Chosen: at an idle of 28 and of 40
	// samples the volumes are as exact as the pressures, at one of 57 more exact.
	volumeLeast = 32
	// movedMost is how far a boundary may lie from where the last period puts it, in
	// cycles; from further off the pressure is matched. besides is how much is laid out on
	// either side of the window, for it to move and to stretch. Chosen.
	movedMost = 0.05
	besides   = 0.09
	// wide is the longest step from sample to sample, in usual ones, over which the flow
	// goes straight. Measured, with up to three samples missing now and then: a difference at
	// a lumpy idle is 0.019 to 0.023 kPa off, by pressures 0.025 to 0.028.
	wide = 4.5
	// slopeOver is how far to each side the pressure's slope is looked for, s. Measured:
	// from 1 to 4 ms all is as exact, but for what is left of ignition spikes: that weighs
	// less and less.
	slopeOver = 4e-3
	// lagRate is the share by which a lag that is found to be another is followed at a
	// boundary. Chosen: a step of 1 ms then moves the volumes by a twentieth of a bin.
	lagRate = 0.05
	// unlike is the residual variance, as a share of the volumes' own, from which on the
	// pressure is matched. Chosen; measured are 0.00005 in the middle, 0.0014 at most with
	// misfires, 0.005 at 250 samples a second.
	unlike = 0.01
	// volumeCells of the table, to volumeTop of ambient. Chosen: a straight line between
	// cells is right to 5e-5 from a fifth of ambient to 0.99 of it; beyond, little flows.
	volumeCells = 1024
	volumeTop   = 1.125
)

// volumeTable is psi(P)/P and the logarithm of P.
var volumeTable = func() (t [volumeCells + 1]struct{ flow, log float64 }) {
	for i := range t {
		r := max(float64(i), 0.5) * volumeTop / volumeCells
		t[i].flow, t[i].log = nozzle(r)/r, math.Log(r)
	}
	return t
}()

// intake matches boundaries by those volumes, where refills are a nozzle's whose pace is
// known. The volumes are free of the hoses' lags, and so are the boundaries in them.
type intake struct {
	ambient float64
	pace    [MaxCylinders]float64     // of each refill, 1/s; 0 is unknown
	lag     [MaxCylinders]float64     // of each hose, s
	late    float64                   // by how much boundaries come later in the pressures, s
	volume  [MaxCylinders][]float64   // by sample
	usual   [MaxCylinders]curve       // the same around the boundary, by bin
	cycles  [MaxCylinders]int         // that usual is the mean of
	share   [MaxCylinders]float64     // by which each dip of the last match is stronger
	out     float64                   // residual of the last round, as a share of the volumes' variance
	missed  int                       // boundaries in a row whose volumes can't be laid out
	rate    [volumeSize]float64       // by sample, 1/s: over the time in which a slope is looked for
	rest    [2*windowBins + 1]float64 // what learnOne has found left, by bin
}

func newIntake(cylinders int) *intake {
	m := &intake{}
	for c := range cylinders {
		m.volume[c] = make([]float64, volumeSize)
	}
	return m
}

// begin forgets all: another boundary is followed.
func (m *intake) begin() {
	m.pace = [MaxCylinders]float64{}
	m.forget()
}

// forget forgets the usual volumes: the next boundary is found otherwise, and may lie a
// little off those that they were learned around.
func (m *intake) forget() { m.cycles = [MaxCylinders]int{} }

// know takes the pace of a cylinder's refill, 0 when it is not known just now, and the lag
// of its hose; period is the cycle's. Without a pace, the usual volumes are forgotten too.
// With another lag they come at another time: that is no move of the boundary.
func (m *intake) know(c int, pace, lag, period float64) {
	if m.pace[c] = pace; pace <= 0 {
		m.cycles[c] = 0
	}
	if m.cycles[c] == 0 {
		m.lag[c] = lag
		return
	}
	by := lagRate * (lag - m.lag[c])
	m.lag[c] += by
	m.hasten(c, by/period*bins)
}

// hasten lets the usual volumes of cylinder c come earlier by far less than a bin.
func (m *intake) hasten(c int, by float64) {
	k := &m.usual[c]
	before := k[bins-windowBins]
	for b := bins - windowBins + 1; b < bins+windowBins; b++ {
		now := k[b&(bins-1)]
		k[b&(bins-1)] += by / 2 * (k[(b+1)&(bins-1)] - before)
		before = now
	}
	k[bins] = k[0]
}

// common returns what is common to the cylinders' lags, of which those that are unknown
// count as nought.
func (m *intake) common(cylinders int) (lag float64) {
	for c := range cylinders {
		lag += m.lag[c] / float64(cylinders)
	}
	return lag
}

// enough reports whether enough cylinders are known to match by, of four all but one, and
// draw: where nothing moves any more, what is usual fits with no strength at all.
func (m *intake) enough(cylinders int) bool {
	n := 0
	for c := range cylinders {
		if m.cycles[c] > 0 && m.share[c] > -mostWeak {
			n++
		}
	}
	return n >= cylinders-cylinders/4
}

// lay works out the volumes around t. ok is false when those are too many samples, or too
// many in a row are missing.
func (m *intake) lay(h *history, t, period float64) (ok bool) {
	i0, _ := h.find(t - (halfWindow+besides)*period)
	i1, _ := h.find(t + (halfWindow+besides)*period)
	apart := max(1, int(slopeOver/h.step+0.5))
	if i1-i0 >= volumeSize || i0-apart < h.first() || i1+apart >= h.count {
		return false
	}
	for i := i0; i <= i1; i++ {
		if h.at(i)-h.at(i-1) > wide*h.step {
			return false
		}
		m.rate[i&(volumeSize-1)] = 1 / (h.at(i+apart) - h.at(i-apart))
	}
	for c := range h.kpa {
		if m.pace[c] > 0 {
			m.layOne(h, c, i0, i1, apart)
		}
	}
	return true
}

// layOne works out those of cylinder c from sample i0 to i1. The lag is undone by the slope
// between samples that lie so many apart on either side, at the rates that lay has worked
// out.
func (m *intake) layOne(h *history, c, i0, i1, apart int) {
	scale, half := volumeCells/volumeTop/m.ambient, m.pace[c]/2
	kpa, volume, time := h.kpa[c], m.volume[c], h.time
	through, before, then := 0.0, 0.0, h.at(i0)
	lag := m.lag[c]
	for i := i0; i <= i1; i++ {
		rise := kpa[(i+apart)&(len(kpa)-1)] - kpa[(i-apart)&(len(kpa)-1)]
		x := (kpa[i&(len(kpa)-1)] + lag*rise*m.rate[i&(volumeSize-1)]) * scale
		if !(x > 0) {
			x = 0
		} else if x > volumeCells-1 {
			x = volumeCells - 1
		}
		cell := int(x)
		u := x - float64(cell)
		a, b := &volumeTable[cell], &volumeTable[cell+1]
		flow, now := a.flow+u*(b.flow-a.flow), time[i&(len(time)-1)]
		through += half * (now - then) * (before + flow)
		before, then = flow, now
		volume[i&(len(volume)-1)] = volumeUnit * (through - a.log - u*(b.log-a.log))
	}
}

// boundary finds the time of the boundary near t. ok is false when the volumes can't
// tell, or are not alike: they are then forgotten, at once or when that goes on.
func (m *intake) boundary(f *fit, h *history, t, period float64) (at float64, ok bool) {
	if !m.enough(len(h.kpa)) || period < volumeLeast*h.step {
		m.forget()
		return 0, false
	}
	t -= m.late
	if !m.lay(h, t, period) {
		if m.missed++; m.missed > patience {
			m.forget()
		}
		return 0, false
	}
	m.missed = 0
	at = f.settle(h, t, period, func(stretch float64) (float64, float64) { return m.solve(f, len(h.kpa), stretch) })
	if m.out > unlike || math.Abs(at-t) > movedMost*period || !m.enough(len(h.kpa)) {
		m.forget()
		return 0, false
	}
	return at + m.late, true
}

// solve does one round of least squares, as fit.solve does.
func (m *intake) solve(f *fit, cylinders int, stretch float64) (move, more float64) {
	var all sums
	left, power := 0.0, 0.0
	f.sharpen()
	for c := range cylinders {
		if m.cycles[c] == 0 {
			continue
		}
		s := f.sums(m.volume[c], &m.usual[c], &m.usual[c])
		s.centre()
		power += s.mm
		left += s.rr
		rm := s.rm
		m.share[c] = s.free(depthSD * depthSD)
		left -= rm * m.share[c]
		all.add(&s, false)
	}
	m.out = left / (power + 1e-9)
	return all.place(stretch)
}

// restart learns the usual volumes, unless some are known, around a boundary at t that the
// pressures have shown.
func (m *intake) restart(f *fit, h *history, t, period float64) {
	if m.cycles != [MaxCylinders]int{} {
		return
	}
	m.late = m.common(len(h.kpa))
	if m.lay(h, t-m.late, period) {
		m.learn(f, h, t, period)
	}
}

// learn renews the usual volumes with those around the boundary that was found last.
func (m *intake) learn(f *fit, h *history, t, period float64) {
	step := period * f.stretch / bins
	for c := range h.kpa {
		if m.pace[c] <= 0 {
			continue
		}
		if m.cycles[c] == 0 {
			m.share[c], m.usual[c] = 0, curve{}
		}
		if m.cycles[c]++; m.cycles[c] < learnAll || m.cycles[c]%2 == 0 {
			m.learnOne(h, c, t-m.late, step)
		}
	}
}

// learnOne renews those of cylinder c around t, bins being step seconds apart. A part of its
// dip's strength is left in, for the usual strength to be learned too.
func (m *intake) learnOne(h *history, c int, t, step float64) {
	k := &m.usual[c]
	rate, strength := max(forget, 1/float64(m.cycles[c])), 1+(1-forget)*m.share[c]
	i, _ := h.find(t - windowBins*step)
	level := 0.0
	for b := range m.rest {
		at := t + float64(b-windowBins)*step
		for h.at(i+1) <= at {
			i++
		}
		r := m.at(c, i, (at-h.at(i))/(h.at(i+1)-h.at(i))) - strength*k[(b-windowBins)&(bins-1)]
		m.rest[b] = r
		level += r / float64(len(m.rest))
	}
	for b, r := range m.rest {
		k[(b-windowBins)&(bins-1)] += rate * (r - level)
	}
	k[bins] = k[0]
}

// at returns the volume of cylinder c at share u of the way from a sample to the next, by a
// cubic whose slopes are the neighbours'.
func (m *intake) at(c, sample int, u float64) float64 {
	v := m.volume[c]
	p, q := v[sample&(len(v)-1)], v[(sample+1)&(len(v)-1)]
	s0, s1 := (q-v[(sample-1)&(len(v)-1)])/2, (v[(sample+2)&(len(v)-1)]-p)/2
	d := q - p
	return p + u*(s0+u*(3*d-2*s0-s1+u*(s0+s1-2*d)))
}
