package cycle

import (
	"math"

	"evendraw/internal/nozzle"
)

// A hose with a small jet before a volume, as a tight nozzle and the hose's air behind it, is no lag of first
// order. What is felt, y, follows the runner's pressure P by the flow of a nozzle, which is slow near the end of
// a step, and quicker up than down:
//
//	y' = pace P psi(y/P)   while it rises,   y' = -pace y psi(P/y)   while it falls
//
// So the mean of y is not that of P: dips weigh less in it. Its pace is told as a lag, that of a step of a tenth
// of ambient: jetLagPace over the pace.

// Constants of a jet.
const (
	// jetLagPace is (1-r)/psi(r) of a step of a tenth of ambient. Derived.
	jetLagPace = 0.25
	// jetSensorLag is the lag of hose and sensor beside a jet, s, and jetSensorSD how far it lies from that. Chosen.
	jetSensorLag = 1.5e-3
	jetSensorSD  = 1e-3
	// jetLags are where a fit of a jet begins, s, and jetRounds how many rounds it has at most: it ends with one that
	// takes less than convergedShare off what is left. Chosen: 0.1 to 0.5 mm² before 2 cm³ have 17 to 3 ms.
	// minJetLooks is from how many refills on one is looked for. It is a jet where what the fit leaves, rms, is
	// below surelyJet of what a lag leaves; perhaps one, from perhapsLooks on, where it is less and a lag
	// leaves more than plainHoseRMS. Measured: lags leave 0.00005 to 0.0001 behind plain hoses, 0.002 behind
	// jets of 0.2 and 0.3 mm², 0.0001 to 0.00016 behind 0.1, 0.5 and 1 mm². With fewer than doubtLooks chance leaves
	// as much behind one plain hose of a hundred: what a jet leaves is then 0.95 of that and more, behind jets 0.3
	// to 0.9 mostly. Beyond doubtfulJet, as a share, it is decided by twice as many refills.
	minJetLooks    = 16
	jetRounds      = 20
	convergedShare = 0.01
	surelyJet      = 0.5
	perhapsLooks   = 64
	doubtLooks     = 96
	doubtfulJet    = 0.9
	plainHoseRMS   = 0.000115
	// A jet chokes in a fall: what is felt falls by its pace times jetFlow(nozzle.Critical), as a share a second, at
	// most. One that fits by chokedShare beyond that can't be, whatever the refill looks like. Measured: jets of 0.2 to
	// 0.4 mm² that fit are within 0.06 of it; hoses whose air swings at 36 Hz have refills like those behind jets of 4
	// to 6 ms, 0.76 to 1.3 times as steep.
	chokedShare = 0.07
	// flowCells is the size of flowTable. Chosen: right to 1e-5.
	flowCells = 256
)

var jetLags = [...]float64{3e-3, 6e-3, 9e-3, 13e-3, 20e-3}

// flowTable is the square of psi from the critical ratio r to 1, where it nears 0 in a straight line.
var flowTable [flowCells + 2]float64

func flows() (flow [flowCells + 2]float64) {
	for i := range flow {
		psi := nozzle.Flow(nozzle.Critical + (1-nozzle.Critical)*float64(i)/flowCells)
		flow[i] = psi * psi
	}
	return flow
}

// jetFlow returns psi of a ratio of at most 1.
func jetFlow(ratio float64) float64 {
	x := max(0, ratio-nozzle.Critical) * (flowCells / (1 - nozzle.Critical))
	i := min(int(x), flowCells)
	return math.Sqrt(max(0, flowTable[i]+(x-float64(i))*(flowTable[i+1]-flowTable[i])))
}

// jetRise returns y' where the runner is at p.
func jetRise(p, y, pace float64) float64 {
	if p > y {
		return pace * p * jetFlow(y/p)
	}
	return -pace * y * jetFlow(p/y)
}

// fillJet is fill for a jet, with a lag behind it of q.after places: the midpoint method, which never goes beyond P.
func (q *course) fillJet(y *[refillPlaces]float64, from, end int) {
	start, pace := q.middle-refillMiddle/q.pace, jetLagPace/q.lag
	keep := math.Exp(-1 / q.after)
	part := (1 - keep) * q.after
	v, old := q.first, nozzle.Ratio((float64(from)-start)*q.pace)
	felt := v - q.after*jetRise(old, v, pace)
	y[from] = felt + q.offset
	for p := from + 1; p < end; p++ {
		now := nozzle.Ratio((float64(p) - start) * q.pace)
		half := v + jetRise(old, v, pace)/2
		if (half-old)*(v-old) < 0 {
			half = old
		}
		next := v + jetRise((old+now)/2, half, pace)
		if (next-now)*(v-now) < 0 {
			next = now
		}
		felt = keep*felt + (part-keep)*v + (1-part)*next
		v, old = next, now
		y[p] = felt + q.offset
	}
}

// undoLag writes to own what was before a lag of the course k over a cycle; step is the time between bins.
func undoLag(own, k *curve, lag, step float64) {
	for b := range bins {
		own[b] = k[b] + lag/(2*step)*(k[(b+1)&(bins-1)]-k[(b+bins-1)&(bins-1)])
	}
	own[bins] = own[0]
}

// HoseKind is what a hose passes pressure on like.
type HoseKind string

// Kinds of hoses.
const (
	PlainHose  HoseKind = "plain"       // by a lag, as far as is known
	PerhapsJet HoseKind = "perhaps-jet" // a little more like a jet than by a lag
	JetHose    HoseKind = "jet"
	OddHose    HoseKind = "odd" // neither by a lag nor like a jet: what it does to a mean is not known
)

// lookForJet holds jets against the fit of a lag that left plain, mean square, each time that the mean refill has
// twice as many refills; fit returns what a jet leaves that begins at a lag, s, and the lag it ends at. What was
// found is given up by many refills alone.
func (o *hose) lookForJet(plain float64, fit func(lag float64) (rest, fitted float64)) {
	looks := o.refill.looks
	switch {
	case o.fits == PlainHose && o.compared >= perhapsLooks:
		return // it stays plain until it is another hose
	case looks < o.compared:
		o.compared = 0
	}
	if looks < max(2*o.compared, minJetLooks) || looks < perhapsLooks && !o.refill.isSteady() {
		return
	}
	o.compared = looks
	doubtful := plainHoseRMS
	if looks < perhapsLooks { // noise may leave more
		doubtful = max(o.refill.noiseRMS(), plainHoseRMS)
	}
	least, any := math.Inf(1), math.Inf(1)
	if plain >= doubtful*doubtful {
		least, any = o.fitJets(fit)
	}
	switch {
	case least < surelyRefillRMS*surelyRefillRMS && least < surelyJet*surelyJet*plain:
		o.fits = JetHose
	case looks < perhapsLooks && o.fits != "":
	case looks < doubtLooks && plain > plainHoseRMS*plainHoseRMS && least < plain &&
		least > doubtfulJet*doubtfulJet*plain:
		o.compared = perhapsLooks - 1 // looked at once more, by twice as many
	case plain > plainHoseRMS*plainHoseRMS && least < plain && least < surelyRefillRMS*surelyRefillRMS &&
		looks >= perhapsLooks:
		o.fits = PerhapsJet
	case looks >= perhapsLooks && (plain > surelyRefillRMS*surelyRefillRMS || any < surelyJet*surelyJet*plain):
		o.fits = OddHose
	default:
		o.fits = PlainHose
	}
}

// fitJets fits jets that begin at several lags and returns what the best leaves, mean square: of those that can pass on
// the falls that are felt, and of any.
func (o *hose) fitJets(fit func(lag float64) (rest, fitted float64)) (least, any float64) {
	choked := jetLagPace * jetFlow(nozzle.Critical) / o.feltFall // the lag of a jet that chokes just so
	least, any = math.Inf(1), math.Inf(1)
	try := func(start float64) {
		rest, fitted := fit(start)
		if any = min(any, rest); !(fitted > (1+chokedShare)*choked) {
			least = min(least, rest)
		}
	}
	if choked < maxHoseLag {
		try(choked)
	}
	for _, start := range jetLags {
		try(start)
	}
	return least, any
}

// Constants of a fall that is blunt: a jet chokes while the runner's pressure falls, so that what is felt can't fall
// faster than its pace, whatever the refill shows of it.
const (
	// Where its steepest fall, as a share of the pressure, is below bluntShare of the others' median, a hose passes on
	// less than they do. Measured on the practice engine: sound ones 0.88 and more, worn rings, a tight
	// valve and a leak too; where a split leaves 0.85 of the vacuum 0.8; jets of 0.5 mm² before 2 cm³ 0.61 to 0.66, of
	// 0.4 0.50 to 0.54; of 1 mm² 0.87 to 0.95. Of two hoses alone it can't be said which is other. With no lag undone
	// those of jets that fit are 0.14 to 0.42, of sound hoses whose refills look like jets 0.89 to 1.12.
	bluntShare = 0.73
	bluntHoses = 3
	// bluntSwing is the least swing, in ambient pressures, that is judged, bluntBins over how many bins to each side
	// the slope is taken. Chosen.
	bluntSwing = 0.2
	bluntBins  = 2
	// A fall that lasts for more than longFall of a cycle, from fallStart of the swing below the highest on, is of no
	// lag whose refills can be read: what is felt falls until the runner's pressure has risen to it. Measured on the
	// practice engine: behind short hoses 0.20 to 0.24, lags of 30 and 60 ms 0.27 to 0.37, jets of 0.05 and 0.07 mm² in
	// all hoses 0.40 to 0.44, whose refills look like those of lags of 5 to 36 ms, with openings wrong by half.
	longFall  = 0.385
	fallStart = 0.05
	// longFallUntil is the share down to which one stays too long. Chosen.
	longFallUntil = 0.37
)

// fallShare returns how long the fall of a course over a cycle lasts, in cycles.
func fallShare(k *curve) float64 {
	low, high, n := 0, 0, 0
	for b := range bins {
		if k[b] < k[low] {
			low = b
		}
		if k[b] > k[high] {
			high = b
		}
	}
	for start := k[high] - fallStart*(k[high]-k[low]); n < bins && k[(low-n)&(bins-1)] < start; n++ {
	}
	return float64(n) / bins
}

// steepestFall returns the largest fall of a cylinder's pressure, as a share of it, in a bin; the lag of its hose is
// undone. It is 0 where the swing is less than least, kPa. K is the course over a cycle, step the time between bins.
func steepestFall(k *curve, lag, step, least float64) (steepest float64) {
	var own curve
	undoLag(&own, k, lag, step)
	low, high := own[0], own[0]
	for b := range bins {
		fall := own[(b+bins-bluntBins)&(bins-1)] - own[(b+bluntBins)&(bins-1)]
		steepest = max(steepest, fall/(2*bluntBins*max(own[b], 1)))
		low, high = min(low, own[b]), max(high, own[b])
	}
	if high-low < least {
		return 0
	}
	return steepest
}

// findBlunt looks for hoses whose falls are blunt beside the others', or last too long.
func (t *Tracker) findBlunt() {
	n := len(t.history.channels)
	var steep [MaxCylinders]float64
	for c := range n {
		k, o := t.follow.template.kpa[c], &t.hoses[c]
		most := longFall
		if o.longFall {
			most = longFallUntil
		}
		o.longFall = fallShare(k) > most
		step, swing := t.follow.period/bins, bluntSwing*float64(t.health.ambient)
		steep[c] = steepestFall(k, o.lag, step, swing)
		o.feltFall = steepestFall(k, 0, step, swing) / step
	}
	for c := range n {
		o := &t.hoses[c]
		o.blunt = n >= bluntHoses && o.good && !o.isLong() && o.refill.looks >= minJetLooks && steep[c] > 0 &&
			steep[c] < bluntShare*medianBut(steep[:n], c)
	}
}

// kind returns what the hose passes pressure on like, "" before it is known.
func (o *hose) kind() HoseKind {
	switch {
	case o.fits == PlainHose && o.longFall:
		return OddHose
	case o.fits == PlainHose && o.blunt:
		return PerhapsJet
	}
	return o.fits
}

// judgeJets says what each hose passes pressure on like, and whose hold a jet that the others' do not: that is said
// where half of all are plain, and of one that falls less steeply than they do: see bluntShare. Where nearly all look
// like jets, differences are up to a fifth too small, and a level bank is level all the same. In between it is said of
// none, as air that swings, or a lag beside a pulse unlike the others', makes refills of all sorts.
//
// Means are not corrected for jets: hoses whose air swings at 29 to 36 Hz have refills like those behind jets, and
// right means, which such a correction had be up to 2.6 kPa off, with a bank told as level at 1.1 to 1.3 kPa.
func (t *Tracker) judgeJets() {
	n, like, plain := len(t.history.channels), 0, 0
	var falls [MaxCylinders]float64
	for c := range n {
		falls[c] = t.hoses[c].feltFall
		switch t.hoses[c].fits {
		case JetHose, PerhapsJet:
			like++
		case PlainHose, "":
			plain++
		}
	}
	all, one := like >= n-n/4, 2*plain >= n
	for c := range n {
		o := &t.hoses[c]
		alone := one && !all && falls[c] < bluntShare*medianBut(falls[:n], c)
		t.health.restricted[c] = alone && o.fits == JetHose
		if o.shown = o.kind(); (o.shown == PerhapsJet || o.shown == JetHose) && !alone && !all {
			o.shown = OddHose
		}
	}
}
