package cycle

import "math"

// The match of a boundary, by weighted least squares over the window, all cylinders together. At
// sample i of a cylinder, x from the boundary in cycles and bins x in bins, there is
//
//	r  what is measured less the expected course k(x)
//	m  the mode: by what k changes with a strength of 1
//	d  the slope of k, per bin
//	e  d x
//
// Looked for are each cylinder's level and share a of the mode; for all cylinders u, by which the boundary lies
// earlier, in bins, and v, by which the cycle is shorter, in bins a cycle. With weights w, standard deviations sigma =
// noiseKPa of a sample, A of a and S = stretchSD of the stretch, of which s is made so far, they make the smallest
//
//	Σ w (r - level - a m - u d - v e)² + Σ (sigma/A)² a² + (sigma/S)² (s - v/bins)²
//
// With mm = Σ w m m - Σ w m Σ w m / Σ w and so on, which takes each level out (centre), this is one
// cylinder's part of the normal equations, lambda = (sigma/A)²:
//
//	| mm + lambda   md   me |  | a |     | rm |
//	| md            dd   de |  | u |  =  | rd |
//	| me            de   ee |  | v |     | re |
//
// a is each cylinder's own and is eliminated first (eliminateMode). What remains, 2 by 2, is added up
// over the cylinders (accumulate). The stretch adds kappa = (sigma/(S bins))² to ee and kappa bins s to
// re, and u and v are solved for (solve).
const (
	// halfWindow is how far the window reaches to each side, in cycles.
	windowPercent = 25
	halfWindow    = windowPercent / 100.0
	// lookAhead is how much of the next cycle must have come, in cycles: the dips whose
	// flanks are in the window, for their strength.
	lookAhead = 0.46
	// maxRounds is the most rounds of a fit, and converged the move, in cycles, below which
	// no other round follows: what is left is of second order.
	maxRounds = 5
	converged = 5e-4
	// stretchSD is the standard deviation of the stretch. Chosen: the speed within a cycle stays within 5 %.
	stretchSD = 0.05
	// noiseKPa is the standard deviation of a sample off its cycle's course. Chosen: noise, and how cycles differ.
	noiseKPa = 0.3
	// minStrength is a strength that shows next to nothing of the mode. Chosen.
	minStrength = 0.01
	// minLearnSamples is the fewest samples in a window that modes are learned from. Chosen.
	minLearnSamples = 8
	// maxRoundMove is the farthest that a fit may move in one round, in cycles.
	maxRoundMove = 0.04
	// maxWindow is the most samples of a window that are used; of more, every
	// second, third... is. Chosen: with so many, noise is no limit.
	maxWindow = 96
)

// fit is a match under way.
type fit struct {
	n        int
	weights  float64               // their sum
	bin      [maxWindow]int        // of the template, at or before a sample
	part     [maxWindow]float64    // how far the sample is from there to the next bin, 0 to 1
	distance [maxWindow]float64    // x
	weight   [maxWindow]float64    // w
	first    int                   // sample in the history
	every    int                   // so many samples further on is the next that is used
	left     [maxWindow]float64    // what the template leaves: see residuals
	mode     [maxWindow]float64    // m
	slope    [maxWindow]float64    // d
	lever    [maxWindow]float64    // e
	stretch  float64               // 1 + s: the period over that expected
	residual float64               // mean square of r in the last round, kPa², cylinders added up
	power    float64               // variance of the template there, kPa², cylinders added up
	skip     int                   // cylinder left out, -1 is none
	share    [MaxCylinders]float64 // a, beyond the strength
}

func newFit() *fit { return &fit{skip: -1} }

// boundary refines the time of a boundary near t, of a cycle of the given
// length, by the pressures. It leaves the fit's residual and power.
func (f *fit) boundary(h *history, tm *template, t, period float64) float64 {
	return f.settle(h, t, period, func(stretch float64) (float64, float64) { return f.solve(h, tm, stretch) })
}

// settle does rounds of least squares until the boundary's time has converged.
func (f *fit) settle(h *history, t, period float64, solve func(stretch float64) (move, more float64)) float64 {
	f.stretch = 1
	for range maxRounds {
		f.window(h, t, period*f.stretch)
		move, more := solve(f.stretch - 1)
		move = min(max(move, -maxRoundMove), maxRoundMove)
		t += move * period
		f.stretch = min(max(f.stretch+more, 1-3*stretchSD), 1+3*stretchSD)
		if math.Abs(move) < converged {
			break
		}
	}
	return t
}

// window lays out the samples around t.
func (f *fit) window(h *history, t, period float64) {
	i0, _ := h.find(t - halfWindow*period)
	i1, _ := h.find(t + halfWindow*period)
	f.first, f.every = i0+1, 1+(i1-i0)/maxWindow
	scale, n, weights := 1/period, 0, 0.0
	for i := f.first; i <= i1 && n < maxWindow; i += f.every {
		x := (h.time[i] - t) * scale
		near := 1 - x*x*(1/halfWindow/halfWindow)
		pos := x * bins
		if pos < 0 {
			pos += bins
		}
		f.bin[n] = min(int(pos), bins-1)
		f.part[n], f.distance[n], f.weight[n] = pos-float64(f.bin[n]), x, near
		n++
		weights += near
	}
	f.n, f.weights = n, weights
}

// sharpen lets the samples near the boundary weigh more: the crank does not go evenly all through the window.
func (f *fit) sharpen() {
	sum := 0.0
	for i, w := range f.weight[:f.n] {
		f.weight[i] = w * w
		sum += w * w
	}
	f.weights = sum
}

// solve does one round of least squares on the pressures: by how many cycles the boundary lies
// later, and by what share the cycle is longer.
func (f *fit) solve(h *history, tm *template, stretch float64) (move, more float64) {
	var all sums
	f.residual, f.power = 0, 0
	for c := range tm.kpa {
		if c == f.skip {
			continue
		}
		f.power += tm.power[c]
		s := f.sums(h.kpa[c][f.first:], &tm.expected[c], tm.mode[c])
		s.centre()
		f.residual += s.rr / s.w
		// The expected course has the strength that the depth of the dip shows; a is the rest.
		st := &tm.strength[c]
		f.share[c] = s.eliminateMode(st.openVariance(tm.spread[c]))
		all.accumulate(&s, st.known)
	}
	// A strength that all have in common was taken out of theirs: see removeCommon.
	all.eliminateMode(tm.openCommon)
	return all.solve(stretch)
}

// learn renews the modes and the tails with the last window: by the strengths where
// they are known, else by the shares that fit.
func (f *fit) learn(h *history, tm *template) {
	if f.n < minLearnSamples {
		return
	}
	rate := max(modeShare, firstModeShare/(1+modeDecay*float64(tm.cycles)))
	for c := range tm.kpa {
		st := &tm.strength[c]
		x := f.share[c]
		switch {
		case st.known:
			x = st.now
		case tm.known > 1:
			continue // only this strength is unknown: something is wrong with the channel
		}
		tm.spread[c] += rate * (x*x - tm.spread[c])
		level := f.residuals(h, tm, c, x)
		f.addResiduals(tm.mode[c], learnGain(rate, x, tm.spread[c]), level)
		f.addResiduals(tm.tail[c], learnGain(rate, st.before, st.square), level)
	}
}

// learnGain is the share of the residuals that a curve learns from a strength x; usual is the mean square of such
// strengths. It is bounded so that a curve learns half of what x shows at most, and no residual grows.
func learnGain(rate, x, usual float64) float64 {
	return min(max(rate*x/(max(usual, 2*rate*x*x)+minStrength*minStrength), -1), 1)
}

// residuals fills left with what the template, with strength x, leaves of cylinder c in the
// window, and returns its mean.
func (f *fit) residuals(h *history, tm *template, c int, x float64) (mean float64) {
	k, mode, tail, before := tm.kpa[c], tm.mode[c], tm.tail[c], tm.strength[c].before
	values := h.kpa[c][f.first:]
	var sum, weight float64
	for i := range min(f.n, maxWindow) {
		at, u := f.bin[i]&(bins-1), f.part[i]
		r := values[i*f.every] - (1-u)*(k[at]+x*mode[at]+before*tail[at]) -
			u*(k[at+1]+x*mode[at+1]+before*tail[at+1])
		f.left[i] = r
		sum += f.weight[i] * r
		weight += f.weight[i]
	}
	return sum / weight
}

// addResiduals adds a share of what is left, less its level, to a curve of the template.
func (f *fit) addResiduals(to *curve, gain, level float64) {
	end := to[0]
	for i := range min(f.n, maxWindow) {
		at, r := f.bin[i]&(bins-1), gain*(f.left[i]-level)
		to[at] += (1 - f.part[i]) * r
		to[at+1] += f.part[i] * r
	}
	to[0] += to[bins] - end
	to[bins] = to[0]
}

// sums are weighted sums: r is Σ w r, rm is Σ w r m and so on.
type sums struct {
	w, r, m, d, e                      float64
	rr, rm, rd, re, mm, md, me, dd, de float64
	ee                                 float64
}

// sums adds up the window of one cylinder, k being its expected course, and values beginning with the window's
// first. Two loops, as there are not registers enough for all the sums in one.
func (f *fit) sums(values []float64, k, mode *curve) sums {
	n := min(f.n, maxWindow)
	var sr, sm, sd, se, rr, rm, rd, re float64
	for i := range n {
		at, u := f.bin[i]&(bins-1), f.part[i]
		d := k[at+1] - k[at]
		m := mode[at] + u*(mode[at+1]-mode[at])
		r := values[i*f.every] - k[at] - u*d
		w, e := f.weight[i], d*f.distance[i]
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

// centre takes the level out: rm becomes rm - r m / w, and so on.
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

// eliminateMode takes a out, whose variance is known beforehand, and returns the a that fits. The
// sums of the mode become those for a strength in common beside each cylinder's own:
//
//	dd becomes dd - md md / (mm + lambda), and so on
//	mm becomes mm lambda / (mm + lambda), and so on
func (s *sums) eliminateMode(variance float64) (share float64) {
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

// solve returns by how many cycles the boundary lies later, -u/bins, and by what share the cycle
// is longer, -v/bins; stretch is s. Both are 0 where the samples show neither.
func (s *sums) solve(stretch float64) (move, more float64) {
	const kappa = noiseKPa * noiseKPa / (stretchSD * stretchSD) / (bins * bins)
	ee, re := s.ee+kappa, s.re+kappa*bins*stretch
	det := s.dd*ee - s.de*s.de
	if s.dd <= 0 || det <= 1e-12*s.dd*ee {
		return 0, 0
	}
	return -(s.rd*ee - re*s.de) / det / bins, -(s.dd*re - s.de*s.rd) / det / bins
}

// accumulate adds the sums of another cylinder; those of the mode only if it is to share in a strength in common.
func (s *sums) accumulate(o *sums, common bool) {
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
