package cycle

import "math"

// Constants of the lag of a hose and its sensor, together of first order. It is found in the
// mean refill of the runner: see course.
const (
	// expectedLag is the lag that is expected before anything is known, expectedLagSD how far lags lie from it,
	// minHoseLag the shortest and maxHoseLag the longest, s. Chosen: short hoses have 2 to 6 ms, a sensor alone 0.455.
	expectedLag   = 3e-3
	expectedLagSD = 4e-3
	minHoseLag    = 0.4e-3
	maxHoseLag    = 80e-3
	// lateBins is how far, in bins of the template, the mean by which a dip is late changes before that is noted, and
	// lateShare the share by which a look renews that mean. Chosen: single looks scatter by some bins, and a mean
	// refill that always begins anew is neither exact nor cheap.
	lateBins  = 2
	lateShare = 1.0 / 8
	// longHose is the lag from which on a hose is long: its dip is then felt late.
	longHose = 8e-3
	// settledLagSD is how exact a lag from a settled mean refill is, s. Chosen.
	settledLagSD = 0.4e-3
	// offsetSD is how far a sensor's zero may have drifted, as a ratio to ambient. Chosen:
	// the drift at which a new zero pass is asked for. A drift is looked for only where the
	// refill goes beyond fullFrom; elsewhere it looks like a lag, and steadyOffsetSD holds.
	offsetSD       = 0.0035
	fullFrom       = 0.985
	steadyOffsetSD = 0.00005
	// zeroBandSDs is how many standard deviations of an unknown zero its band is wide to each side. Chosen. Without
	// a zero pass 5 of 20 sound engines had a hose that looked odd while zeros were taken for known, 0 with this;
	// split hoses and jets are found as soon as with one.
	zeroBandSDs = 2.0
	// lagSquareNoise is the error of the square of a lag from one refill, s². Measured:
	// 1.5e-6 after a hundred refills.
	lagSquareNoise = 15e-6
	// placeNoise is the error of one refill at a place, as a ratio to ambient; it says how much expectations weigh.
	// Measured: sensors with noise of 0.08 kPa, and 10 bits; a third of it gives the same.
	placeNoise = 6e-4
	// noiseSDs is how many times that noise leaves at most. Chosen.
	noiseSDs = 2.0
	// lagKnownShare is how exact a lag is that is known well, as a share of it. Chosen.
	lagKnownShare = 0.25
	// minLooks is the fewest refills that show a lag. Chosen.
	minLooks = 4
	// firstRounds is how many rounds of the fit a new course gets. Chosen.
	firstRounds = 10
	// settledPause is how many refills lie between searches once the mean refill is settled,
	// and maxPause the most while it is not a nozzle's. Chosen: a refill then changes the
	// mean by a hundredth; of a four, one cycle in twelve is looked at then.
	settledPause = 4
	maxPause     = 32
	// searchShare is how many refills lie between searches until then, as a share of those in the mean. Chosen.
	searchShare = 1.0 / 32
	// maxRefillRMS is the largest error of a fitted course, root mean square, as a ratio to
	// ambient; beyond, the refill is not a nozzle's. Measured: 0.0001 through a nozzle.
	maxRefillRMS = 0.0007
	// surelyRefillRMS is the same below which no other lag is tried. Chosen.
	surelyRefillRMS = 0.00025
	// maxDipRatio is the largest ratio of a dip's pressure to ambient; with a shallower dip
	// the refill is too short. Chosen.
	maxDipRatio = 0.8
	// minRefillSamples is the fewest samples of a line through a refill.
	minRefillSamples = 4
)

// otherLags are where a fit begins too, s, where it fails, and each time that there are twice as many refills, as a lag
// and the time in which a runner fills may be taken for each other: a slow refill behind a short hose bends much like a
// quick one behind a long hose. The other is taken where it begins nearer to the other hoses' and leaves surelyOther as
// much, root mean square. Measured on an engine whose hoses have 21 ms: 44 ms left 0.00023, 21 ms 0.000003.
var otherLags = [...]float64{3e-3, 15e-3, 40e-3}

const surelyOther = 0.5

// hose is what is known of one channel's lag.
type hose struct {
	ownLag float64 // the lag that its refill shows, s
	lagSD  float64 // its standard deviation by the fit, s
	good   bool    // the lag is known
	lag    float64 // the lag in use, s: see poolLags
	// settled is the lag that a whole mean refill has shown, 0 before: a hose keeps it when its butterfly is moved.
	settled       float64
	refill        refill
	course        course
	untilSearch   int      // refills until the next search
	pause         int      // refills to wait after a search that found no lag
	damping       float64  // share of the swing that is taken, 0 before it is known
	refillFrom    float64  // where the refill begins, ratio to ambient
	compared      float64  // refills in the mean when a jet was looked for last
	sought        float64  // and when another lag was
	fits, shown   HoseKind // by its refill; of all that is known
	blunt         bool     // its falls are blunter than the others'
	longFall      bool     // its falls last longer than behind any lag
	feltFall      float64  // the steepest fall that is felt, as a share of the pressure, 1/s; 0 of a small swing
	late          float64  // by how much its dip is felt late, s, for a long hose; as noted last
	meanLate      float64  // the same, mean of the last looks
	openingFactor float64  // opening with the lag undone, over the opening without
}

// isLong reports whether the hose's dip is felt late.
func (o *hose) isLong() bool { return o.ownLag > longHose }

// isKnownWell reports whether the lag is known within lagKnownShare. After a throttle was let go it is anew, from few
// refills: a sound twin's was told as 10 ms that are 9 ms uncertain, and its hose as restricted (measured).
func (o *hose) isKnownWell() bool { return o.good && o.lagSD < lagKnownShare*o.ownLag }

// noteLateness works out by how much the dip is felt late; where that changes the mean refill begins anew.
func (o *hose) noteLateness(k *curve, step float64) {
	late := 0.0
	if o.isLong() {
		late = lateness(k, o.ownLag, step)
	}
	if o.isLong() != (o.late > 0) {
		o.meanLate = late
	}
	o.meanLate += lateShare * (late - o.meanLate)
	if math.Abs(o.meanLate-o.late) > lateBins*step {
		o.late, o.refill.looks = o.meanLate, 0
	}
}

// refillSpan is one refill in the history, from the dip to near the next fall.
type refillSpan struct {
	h         *history
	c         int
	period    float64
	bottom    float64 // when the dip usually is
	dip, end  int     // samples of the lowest and the highest
	low, high float64
	ambient   float64
}

// find finds the last whole refill of cylinder c before the time end; why is "" when there is one.
func (r *refillSpan) find(h *history, c int, end, period, dipAt, ambient float64) (why NoOpening) {
	r.h, r.c, r.period, r.ambient = h, c, period, ambient
	t := end - period*(1-dipAt)
	if t+period*maxRefillTime > end {
		t -= period
	}
	const early = 0.12 // the dip's own scatter and lag, in cycles
	t0, t1 := t-early*period, t+period*maxRefillTime
	if t0 <= h.oldest()+period*early || t1 >= h.newest() {
		return FewRefills
	}
	i0, _ := h.find(t0)
	i1, _ := h.find(t1)
	r.bottom = t
	r.low, r.dip, _ = h.extremes(c, i0-1, (i0+i1)/2-1)
	k, high, at := h.kpa[c][:i1+1], math.Inf(-1), 0
	for i := r.dip; i < len(k); i++ {
		if v := k[i]; v > high {
			high, at = v, i
		}
	}
	r.high, r.end = high, at
	if !(r.low < maxDipRatio*ambient && r.high > r.low+(ambient-r.low)/2) {
		return ShallowDip
	}
	return ""
}

// ratio returns the pressure over ambient at a sample.
func (r *refillSpan) ratio(i int) float64 { return r.h.kpa[r.c][i] / r.ambient }

// line has the sums of a straight line g(t).
type line struct{ n, t, g, tt, tg float64 }

func (l *line) add(t, g float64) {
	l.n++
	l.t += t
	l.g += g
	l.tt += t * t
	l.tg += t * g
}

// slope returns the line's slope.
func (l *line) slope() float64 { return (l.tg - l.t*l.g/l.n) / (l.tt - l.t*l.t/l.n) }

// addRefill renews what is known from one refill.
func (o *hose) addRefill(r *refillSpan, f *courseFit) {
	l, ok := r.fitLine(r.fitRange())
	if !ok {
		return
	}
	slope := l.slope()
	middle := r.h.at(r.dip) + l.t/l.n + (refillMiddle-l.g/l.n)/slope
	if !o.refill.add(r, middle, slope, o.late) {
		return
	}
	if o.refill.looks == 1 {
		o.untilSearch, o.pause = 0, 0
	}
	if o.untilSearch--; o.untilSearch > 0 || o.refill.looks < minLooks {
		return
	}
	was := o.good
	if o.good = o.findLag(f, slope); was && !o.good {
		o.refill.looks, o.settled, o.compared = 0, 0, 0 // another hose
	}
	switch {
	case !o.good:
		o.pause = min(max(2*o.pause, 1), maxPause)
		o.untilSearch = o.pause
	case o.refill.looks >= rememberedLooks:
		o.untilSearch = settledPause
	default:
		o.pause, o.untilSearch = 0, int(o.refill.looks*searchShare)
	}
}

// expected returns what is known of a hose before a fit, end being where its mean refill ends and zeroSD how far
// the sensor's zero may be off, and the lag that a fit begins with, s.
func (o *hose) expected(end int, zeroSD float64) (known prior, expected float64) {
	m := &o.refill
	expected, sd := expectedLag, expectedLagSD
	switch {
	case o.settled > 0:
		expected, sd = o.settled, settledLagSD
	case o.isLong():
		expected, sd = o.ownLag, o.ownLag
	}
	drift := steadyOffsetSD
	if m.ratio[end-1] > fullFrom {
		drift = offsetSD
	}
	drift = max(drift, zeroSD)
	noise := placeNoise * placeNoise / m.looks
	return prior{expected / m.step, noise * m.step * m.step / (sd * sd), noise / (drift * drift), minHoseLag / m.step,
		jetSensorLag / m.step, noise * m.step * m.step / (jetSensorSD * jetSensorSD)}, expected
}

// findLag finds ownLag and openingFactor from the mean refill; slope is that of a refill with the
// lag in it. ok is false when the refill shows no lag.
func (o *hose) findLag(f *courseFit, slope float64) (ok bool) {
	m, q := &o.refill, &o.course
	from, end := m.seenPlaces()
	if end-from < minPlaces {
		return false
	}
	known, expected := o.expected(end, f.zeroSD)
	noise := placeNoise * placeNoise / m.looks
	fit := func(q *course, rounds int) float64 { return f.fit(q, &m.ratio, from, end, rounds, &known) }
	begin := func(lag float64) course {
		return course{slope * m.step, placesBefore, lag / m.step, m.ratio[from], 0, false, jetSensorLag / m.step}
	}
	rest := math.Inf(1)
	expect := func(lag float64) { known.lag, known.lagWeight = lag/m.step, noise*m.step*m.step/(lag*lag) }
	try := func(other course, share float64) {
		if left := fit(&other, firstRounds); left < share*rest {
			*q, rest = other, left
		}
	}
	if o.good && m.looks != minLooks {
		rest = fit(q, 1)
	}
	most, share := max(surelyRefillRMS, m.noiseRMS()), surelyOther*surelyOther
	astray, lags := rest > most*most, otherLags[:] // or unknown
	if astray {
		share, lags = 1, otherLags[1:]
		try(begin(expected), share)
	}
	if astray || m.looks >= 2*o.sought && rest > plainHoseRMS*plainHoseRMS {
		o.sought = m.looks
		for _, lag := range lags {
			if astray && (rest < surelyRefillRMS*surelyRefillRMS || o.settled > 0) {
				break
			}
			if apart := math.Abs(o.ownLag - f.usual); astray || f.usual > 0 && math.Abs(lag-f.usual) < apart {
				expect(lag)
				try(begin(lag), share)
			}
		}
		f.lay(q, &m.ratio, from, end, &known)
	}
	o.ownLag, o.lagSD = q.lag*m.step, math.Sqrt(f.lagVariance(q, noise))*m.step
	o.lookForJet(rest, func(lag float64) (rest, fitted float64) {
		expect(lag)
		other := begin(lag)
		other.jet = true
		rest = fit(&other, jetRounds)
		return rest, other.lag * m.step
	})
	o.refillFrom = m.ratio[from]
	raw := o.rawSlope(from, end)
	o.openingFactor = q.pace / m.step / raw
	ok = rest < maxRefillRMS*maxRefillRMS && o.ownLag < maxHoseLag && raw > 0
	if ok && m.looks >= rememberedLooks {
		o.settled = o.ownLag
	}
	return ok
}

// rawSlope returns the slope of the mean refill with the lag in it, 1/s, between two places.
func (o *hose) rawSlope(from, end int) float64 {
	if o.isLong() { // the line is that of all refills of the mean
		return o.refill.rise
	}
	low, high := o.openingRange()
	return o.refill.slope(low, high, from, end)
}

// pace returns the pace of the refill, 1/s, 0 when it is unknown.
func (o *hose) pace() float64 {
	if !o.good || o.refill.looks < minLooks {
		return 0
	}
	return o.course.pace / o.refill.step
}

// lagLooks returns how many refills the lag rests on: for a settled hose as many as a mean refill
// remembers, even when its refill has just begun anew.
func (o *hose) lagLooks() float64 {
	if o.settled > 0 {
		return rememberedLooks
	}
	return max(o.refill.looks, 1)
}

// squareNoise is the variance by chance of the square of the lag that is shown, s⁴: by how refills differ, or where
// that is more by how well the mean refill tells a lag from a zero that has drifted, which it does badly where the
// runner is just not quite full. A lag that is shown as short may be so by chance: it counts as a usual one at least.
func (o *hose) squareNoise(usual float64) float64 {
	fitted := 2 * max(o.ownLag, usual) * o.lagSD
	return max(lagSquareNoise*lagSquareNoise/o.lagLooks(), fitted*fitted)
}

// poolLags sets the hoses' lags, 0 for those that are unknown. What a refill shows is the square
// q of a lag. The less the squares differ beyond chance, the nearer all go to their mean, those first that are known
// least (DerSimonian and Laird 1986; from memory): with v their variances by chance, w = 1/v, Σ over the n hoses,
//
//	t = (Σ w (q - Σ w q / Σ w)² - (n - 1)) / (Σ w - Σ w² / Σ w), at least 0: the variance of the true squares
//	mean = Σ q/(t+v) / Σ 1/(t+v),   lag² = mean + t/(t+v) (q - mean)
func poolLags(hoses []hose) {
	var n, usual, w, ww, wq, wqq float64
	for i := range hoses {
		if o := &hoses[i]; o.good {
			n++
			usual += o.ownLag * o.ownLag
		}
	}
	usual = math.Sqrt(usual / max(n, 1))
	for i := range hoses {
		if o := &hoses[i]; o.good {
			q, v := o.ownLag*o.ownLag, 1/o.squareNoise(usual)
			w += v
			ww += v * v
			wq += v * q
			wqq += v * q * q
		}
	}
	spread := 0.0
	if n > 1 {
		spread = max(0, (wqq-wq*wq/w-(n-1))/(w-ww/w))
	}
	w, wq = 0, 0
	for i := range hoses {
		if o := &hoses[i]; o.good {
			v := 1 / (spread + o.squareNoise(usual))
			w += v
			wq += v * o.ownLag * o.ownLag
		}
	}
	mean := wq / w
	for i := range hoses {
		o := &hoses[i]
		if o.lag = 0; o.good {
			keep := spread / (spread + o.squareNoise(usual))
			o.lag = math.Sqrt(mean + keep*(o.ownLag*o.ownLag-mean))
		}
	}
}

// damping returns the share of the swing of a cylinder's pressure that a lag takes away; k is
// its course over a cycle as felt, step the time between bins.
func damping(k *curve, lag, step float64) float64 {
	var undone curve
	undoLag(&undone, k, lag, step)
	low, _, high := extremes(k[:bins])
	least, _, most := extremes(undone[:bins])
	if !(most > least) {
		return 0
	}
	return max(0, 1-(high-low)/(most-least))
}
