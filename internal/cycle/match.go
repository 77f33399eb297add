package cycle

import "math"

// Constants of the match of a boundary. The samples around it are fitted by the
// template, moved by the boundary's place and stretched by the speed, each
// cylinder with a level and a depth of its own, for its dips scatter.
const (
	// halfWindow is how far the fit reaches to each side, in cycles.
	windowPercent = 25
	halfWindow    = windowPercent / 100.0
	// ahead is how much of the next cycle must have come, in cycles: the dips whose
	// flanks are in the window, for their strength.
	ahead = 0.46
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
	// faint is a strength that tells next to nothing of the mode. Chosen.
	faint = 0.01
	// leastToLearn is the fewest samples in a window that modes are learned from.
	// Chosen.
	leastToLearn = 8
	// farthest a fit may move in one round, in cycles.
	farthest = 0.04
	// windowMost is the most samples of a window that are used; of more, every
	// second, third... is. Chosen: the noise is no limit there.
	windowMost = 96
)

// fit is a match under way.
type fit struct {
	n        int
	weights  float64             // their sum
	bin      [windowMost]int     // of the template that a sample comes after
	part     [windowMost]float64 // how far it is from there to the next bin, 0 to 1
	from     [windowMost]float64 // its distance from the boundary, in cycles
	weight   [windowMost]float64
	index    [windowMost]int
	rest     [windowMost]float64 // what learn has found left
	mode     [windowMost]float64 // of the template at a sample, its slope, and slope times distance
	slope    [windowMost]float64
	lever    [windowMost]float64
	stretch  float64 // that the last boundary was found with
	residual float64 // of the last round, share of the power, strengths as known
	power    float64
	skip     int                   // cylinder left out, -1 is none
	share    [MaxCylinders]float64 // of the mode, beyond the strength
}

func newFit() *fit { return &fit{skip: -1} }

// boundary refines the time of a boundary near t, of a cycle of the given
// length. The residual tells how much alike the window is.
func (f *fit) boundary(h *history, tm *template, t, period float64) float64 {
	return f.settle(h, t, period, func(stretch float64) (float64, float64) { return f.solve(h, tm, stretch) })
}

// settle goes on by rounds of least squares until a boundary's time moves no more.
func (f *fit) settle(h *history, t, period float64, solve func(stretch float64) (move, more float64)) float64 {
	f.stretch = 1
	for range rounds {
		f.window(h, t, period*f.stretch)
		move, more := solve(f.stretch - 1)
		move = min(max(move, -farthest), farthest)
		t += move * period
		f.stretch = min(max(f.stretch+more, 1-3*stretchSD), 1+3*stretchSD)
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
	scale, n, weights := 1/period, 0, 0.0
	for i := i0 + 1; i <= i1 && n < windowMost; i += every {
		x := (h.time[i&h.mask] - t) * scale
		near := 1 - x*x*(1/halfWindow/halfWindow)
		pos := x * bins
		if pos < 0 {
			pos += bins
		}
		f.bin[n] = min(int(pos), bins-1)
		f.part[n], f.from[n], f.weight[n], f.index[n] = pos-float64(f.bin[n]), x, near, i
		n++
		weights += near
	}
	f.n, f.weights = n, weights
}

// sharpen lets the samples near the boundary weigh more, where these are enough: the crank
// does not go evenly all through the window.
func (f *fit) sharpen() {
	f.weights = 0
	for i, w := range f.weight[:f.n] {
		f.weight[i] = w * w
		f.weights += w * w
	}
}

// solve does one round of least squares: by how many cycles the boundary lies
// later, and by what share the cycle is longer.
func (f *fit) solve(h *history, tm *template, stretch float64) (move, more float64) {
	var all sums
	f.residual, f.power = 0, 0
	for c := range tm.kpa {
		if c == f.skip {
			continue
		}
		f.power += tm.power[c]
		s := f.sums(h.kpa[c], &tm.due[c], tm.mode[c])
		s.centre()
		f.residual += s.rr / s.w
		// What is left of a strength is free, with what is known of it before...
		st := &tm.strength[c]
		f.share[c] = s.free(st.doubt(tm.spread[c]))
		all.add(&s, st.known)
	}
	// ... and so is what is left of what is common to them.
	all.free(tm.left)
	return all.place(stretch)
}

// learn renews the modes and the tails with the last window: by the strengths where
// they are known, else by the shares that fit. Few samples tell nothing of them.
func (f *fit) learn(h *history, tm *template) {
	if f.n < leastToLearn {
		return
	}
	rate := max(modeShare, modeFirst/(1+modeDecay*float64(tm.cycles)))
	for c := range tm.kpa {
		st := &tm.strength[c]
		x := f.share[c]
		switch {
		case st.known:
			x = st.now
		case tm.known > 1:
			continue // the others' are known: something is wrong with this one
		}
		tm.spread[c] += rate * (x*x - tm.spread[c])
		level := f.left(h, tm, c, x)
		f.add(tm.mode[c], learnGain(rate, x, tm.spread[c]), level)
		f.add(tm.tail[c], learnGain(rate, st.before, st.square), level)
	}
}

// learnGain is the share of what is left that a curve learns from a strength x whose
// square is usual on the average: of what x itself shows, it learns a half at most, and
// what is left is never made larger in it.
func learnGain(rate, x, usual float64) float64 {
	return min(max(rate*x/(max(usual, 2*rate*x*x)+faint*faint), -1), 1)
}

// left fills rest with what the template, with strength x, leaves of cylinder c in
// the window, and returns its mean.
func (f *fit) left(h *history, tm *template, c int, x float64) (mean float64) {
	k, mode, tail, before := tm.kpa[c], tm.mode[c], tm.tail[c], tm.strength[c].before
	values := h.kpa[c]
	var sum, weight float64
	for i := range min(f.n, windowMost) {
		at, u := f.bin[i]&(bins-1), f.part[i]
		r := values[f.index[i]&(len(values)-1)] - (1-u)*(k[at]+x*mode[at]+before*tail[at]) - u*(k[at+1]+x*mode[at+1]+before*tail[at+1])
		f.rest[i] = r
		sum += f.weight[i] * r
		weight += f.weight[i]
	}
	return sum / weight
}

// add adds a share of what is left, less its level, to a curve of the template.
func (f *fit) add(to *curve, gain, level float64) {
	end := to[0]
	for i := range min(f.n, windowMost) {
		at, r := f.bin[i]&(bins-1), gain*(f.rest[i]-level)
		to[at] += (1 - f.part[i]) * r
		to[at+1] += f.part[i] * r
	}
	to[0] += to[bins] - end
	to[bins] = to[0]
}

// sums are weighted sums of residual r, template m, slope d and slope times
// distance e.
type sums struct {
	w, r, m, d, e                      float64
	rr, rm, rd, re, mm, md, me, dd, de float64
	ee                                 float64
}

// sums adds up the window of one cylinder, of whose dips the strengths are known. Two
// loops, as there are not registers enough for all the sums in one.
func (f *fit) sums(values []float64, k, mode *curve) sums {
	n := min(f.n, windowMost)
	var sr, sm, sd, se, rr, rm, rd, re float64
	for i := range n {
		at, u := f.bin[i]&(bins-1), f.part[i]
		d := k[at+1] - k[at]
		m := mode[at] + u*(mode[at+1]-mode[at])
		r := values[f.index[i]&(len(values)-1)] - k[at] - u*d
		w, e := f.weight[i], d*f.from[i]
		f.mode[i], f.slope[i], f.lever[i] = m, d, e
		sm += w * m
		sd += w * d
		se += w * e
		wr := w * r
		sr += wr
		rr += wr * r
		rm += wr * m
		rd += wr * d
		re += wr * e
	}
	var mm, md, me, dd, de, ee float64
	for i := range n {
		m, d, e, w := f.mode[i], f.slope[i], f.lever[i], f.weight[i]
		wm, wd := w*m, w*d
		mm += wm * m
		md += wm * d
		me += wm * e
		dd += wd * d
		de += wd * e
		ee += w * e * e
	}
	return sums{f.weights, sr, sm, sd, se, rr, rm, rd, re, mm, md, me, dd, de, ee}
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

// free leaves the mode's share open, but for the variance that is known of it before. It
// returns the share that fits; what is left of the mode's own sums is for what is common
// to several.
func (s *sums) free(variance float64) (share float64) {
	g := 1 / (s.mm + noiseKPa*noiseKPa/(variance+1e-12))
	share = s.rm * g
	s.rd -= share * s.md
	s.re -= share * s.me
	s.dd -= s.md * s.md * g
	s.de -= s.md * s.me * g
	s.ee -= s.me * s.me * g
	left := 1 - s.mm*g
	s.rm *= left
	s.mm *= left
	s.md *= left
	s.me *= left
	return share
}

// place returns by how many cycles the boundary lies later, and by what share the cycle
// is longer than a stretch that is known before to be about 0.
func (s *sums) place(stretch float64) (move, more float64) {
	const known = noiseKPa * noiseKPa / (stretchSD * stretchSD) / (bins * bins)
	ee, re := s.ee+known, s.re+known*bins*stretch
	det := s.dd*ee - s.de*s.de
	if s.dd <= 0 || det <= 1e-12*s.dd*ee {
		return 0, 0
	}
	// The signal lies later: it falls behind by its slope.
	return -(s.rd*ee - re*s.de) / det / bins, -(s.dd*re - s.de*s.rd) / det / bins
}

// add adds up the sums that the place of a boundary follows from, and the mode's too
// where what is common to all is to be taken out.
func (s *sums) add(o *sums, common bool) {
	s.rd += o.rd
	s.re += o.re
	s.dd += o.dd
	s.de += o.de
	s.ee += o.ee
	if common {
		s.rm += o.rm
		s.mm += o.mm
		s.md += o.md
		s.me += o.me
	}
}
