package cycle

import "math"

// Constants of the match of a boundary. The samples around it are fitted by the
// template, moved by the boundary's place and stretched by the speed, each
// cylinder with a level and a depth of its own, for its dips scatter.
const (
	// halfWindow is how far the fit reaches to each side, in cycles.
	windowPercent = 25
	halfWindow    = windowPercent / 100.0
	// rounds of the fit at most, and the move in cycles that ends it: what
	// is left is of second order.
	rounds = 5
	done   = 5e-4
	// What is known before of a boundary's fit: standard deviations. Chosen:
	// the speed within a cycle stays within 5 %.
	stretchSD = 0.05
	// noiseKPa is what a sample is off its cycle's course. Chosen: noise and
	// what is not alike in two cycles.
	noiseKPa = 0.3
	// farthest a fit may move in one round, in cycles.
	farthest = 0.04
	// windowMost is the most samples of a window that are used; of more, every
	// second, third... is. Chosen: the noise is no limit there.
	windowMost = 96
)

// fit is a match under way.
type fit struct {
	n        int
	pos      []float64 // place of a sample in the template, in bins
	from     []float64 // its distance from the boundary, in cycles
	weight   []float64
	index    []int
	residual float64 // of the last round, share of the power, depths fixed
	power    float64
	skip     int                   // cylinder left out, -1 is none
	own      [MaxCylinders]float64 // of the residual
	share    [MaxCylinders]float64 // of the mode
	level    [MaxCylinders]float64 // off the template's, kPa
}

func newFit() *fit {
	return &fit{pos: make([]float64, windowMost), from: make([]float64, windowMost),
		weight: make([]float64, windowMost), index: make([]int, windowMost), skip: -1}
}

// boundary refines the time of a boundary near t, of a cycle of the given
// length. The residual tells how much alike the window is.
func (f *fit) boundary(h *history, tm *template, t, period float64) float64 {
	stretch := 1.0
	for range rounds {
		f.window(h, t, period*stretch)
		move, more := f.solve(h, tm, stretch-1)
		move = min(max(move, -farthest), farthest)
		t += move * period
		stretch = min(max(stretch+more, 1-3*stretchSD), 1+3*stretchSD)
		if math.Abs(move) < done {
			break
		}
	}
	return t
}

// window lays out the samples around t.
func (f *fit) window(h *history, t, period float64) {
	i0, _ := h.find(t - halfWindow*period)
	i1, _ := h.find(t + halfWindow*period)
	every := 1 + (i1-i0)/windowMost
	scale, n := 1/period, 0
	for i := i0 + 1; i <= i1 && n < windowMost; i += every {
		x := (h.time[i&h.mask] - t) * scale
		near := 1 - x*x*(1/halfWindow/halfWindow)
		pos := x * bins
		if pos < 0 {
			pos += bins
		}
		f.pos[n], f.from[n], f.weight[n], f.index[n] = min(pos, bins-1e-9), x, near, i&h.mask
		n++
	}
	f.n = n
}

// solve does one round of least squares: by how many cycles the boundary lies
// later, and by what share the cycle is longer.
func (f *fit) solve(h *history, tm *template, stretch float64) (move, more float64) {
	var a, b, d, p, q float64 // normal equations: [a b; b d] [move more] = [p q]
	f.residual = 0
	f.power = 0
	for c, k := range tm.kpa {
		if c == f.skip {
			continue
		}
		f.power += tm.power[c]
		var s sums
		values, mode := h.kpa[c], tm.mode[c]
		for i := range f.n {
			at := int(f.pos[i])
			slope := k[at+1] - k[at]
			r := values[f.index[i]] - k[at] - (f.pos[i]-float64(at))*slope
			s.add(f.weight[i], r, mode[at], slope, slope*f.from[i])
		}
		s.centre()
		f.own[c] = s.rr / s.w
		f.residual += f.own[c]
		// The mode's share is free, with what is known of it before.
		g := 1 / (s.mm + noiseKPa*noiseKPa/(tm.spread[c]+1e-12))
		f.share[c] = s.rm * g
		f.level[c] = (s.r - f.share[c]*s.m) / s.w
		a += s.dd - s.md*s.md*g
		b += s.de - s.md*s.me*g
		d += s.ee - s.me*s.me*g
		p += s.rd - s.rm*s.md*g
		q += s.re - s.rm*s.me*g
	}
	// What is known of the stretch before.
	known := noiseKPa * noiseKPa / (stretchSD * stretchSD) / (bins * bins)
	d += known
	q += known * bins * stretch
	det := a*d - b*b
	if a <= 0 || det <= 1e-12*a*d {
		return 0, 0
	}
	// The signal lies later: it falls behind by its slope.
	return -(p*d - q*b) / det / bins, -(a*q - b*p) / det / bins
}

// learn renews the modes with the last window.
func (f *fit) learn(h *history, tm *template) {
	share := max(modeShare, modeFirst/(1+modeDecay*float64(tm.cycles)))
	for c, k := range tm.kpa {
		x, mode := f.share[c], tm.mode[c]
		tm.spread[c] += share * (x*x - tm.spread[c])
		gain := share * x / (tm.spread[c] + 1e-12)
		gain = min(max(gain, -1), 1)
		values := h.kpa[c]
		for i := range f.n {
			at := int(f.pos[i])
			r := values[f.index[i]] - k[at] - (f.pos[i]-float64(at))*(k[at+1]-k[at]) - f.level[c]
			mode[at] += gain * (r - x*mode[at])
		}
	}
}

// sums are weighted sums of residual r, template m, slope d and slope times
// distance e.
type sums struct {
	w, r, m, d, e                      float64
	rr, rm, rd, re, mm, md, me, dd, de float64
	ee                                 float64
}

func (s *sums) add(w, r, m, d, e float64) {
	s.w += w
	wr, wm, wd, we := w*r, w*m, w*d, w*e
	s.r += wr
	s.m += wm
	s.d += wd
	s.e += we
	s.rr += wr * r
	s.rm += wr * m
	s.rd += wr * d
	s.re += wr * e
	s.mm += wm * m
	s.md += wm * d
	s.me += wm * e
	s.dd += wd * d
	s.de += wd * e
	s.ee += we * e
}

// centre takes off the means: each cylinder's level is free.
func (s *sums) centre() {
	if s.w <= 0 {
		return
	}
	n := 1 / s.w
	s.rr -= s.r * s.r * n
	s.rm -= s.r * s.m * n
	s.rd -= s.r * s.d * n
	s.re -= s.r * s.e * n
	s.mm -= s.m * s.m * n
	s.md -= s.m * s.d * n
	s.me -= s.m * s.e * n
	s.dd -= s.d * s.d * n
	s.de -= s.d * s.e * n
	s.ee -= s.e * s.e * n
}
