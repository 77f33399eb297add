package misfire

import (
	"math"
	"slices"

	"evendraw/internal/sensor"
)

// MaxCylinders is the largest number of cylinders of a Watch.
const MaxCylinders = sensor.MaxChannels

// Constants of misfires; slowings are shares of the speed. Measured on the practice engine: a misfire costs
// a four 0.04 to 0.05, a twin 0.1. From cycle to cycle a slowing scatters by 0.0025 on a calm four, by 0.007
// on a lumpy one, by 0.004 and 0.013 on twins.
const (
	// A misfire slows the crank by minSlowing at least, and by slowingSDs times the usual scatter. Chosen.
	minSlowing = 0.012
	slowingSDs = 4.6
	// Where slowings fall into two heaps whose means stand apartSDs standard deviations apart, those
	// beyond heapPart of the way to the upper one are misfires. Chosen: a normal distribution, cut in two
	// where that parts it best, gives 2.65, an even one 3.5 (derived); with a heapPart of 0.62 of the misfires
	// of a lumpy four 88.6 % were told, with 0.5 1.1 of 1,000 cycles at 1400 rpm falsely (measured).
	apartSDs = 3.9
	// fewApart over the number of slowings is what few of them must stand apart beyond that. Chosen.
	fewApart = 32.0
	heapPart = 0.52
	// sureHeap is the least share of the pushes that must come as usual: a smaller lower heap may be what
	// another cylinder's misfires do. Chosen: of misfires at one in two the share wanders. With 0.4, and half as many
	// slowings kept, 82 of 100 were told for 87 (measured).
	sureHeap = 0.3
	// ownHeaps is how far apart, over those of the cylinder whose heaps stand the farthest apart, heaps
	// are a cylinder's own. Chosen; measured: up to 0.7 where they are not.
	ownHeaps = 0.8
	// slowingsKept is how many cycles show the usual slowing, minSlowings the fewest. Chosen.
	slowingsKept = 128
	minSlowings  = 20
	// learnEvery is every how many cycles what is usual is learned anew. Chosen.
	learnEvery = 4
	// nearPush is how far from a push others are its neighbours, in cycles: they show a part of its
	// slowing.
	nearPush = 0.8
	// A hand is on the throttle where the period is off its mean of the last meanCycles by periodOff, as a
	// share, and where slowRun cycles in a row were each slower than the one before, by runSlower in all.
	// Nothing is judged then, and for lateCycles after. Chosen: a misfire costs a twin a tenth at once, a blip
	// doubles the speed and dies away by 2 % a cycle.
	meanCycles = 8
	// anotherSpeed is by how much, as a share, the mean period may differ from that of the slowings that are known:
	// they are learned anew beyond. Chosen; measured: at 0.2 a tenth of the cycles is taken for misfires.
	anotherSpeed = 0.25
	// idlePeriod is the shortest cycle that is judged, s: 2000 rpm. Chosen: above, a throttle that is let go slows
	// the crank as misfires do (measured: 1 cycle in 200).
	idlePeriod = 0.06
	periodOff  = 0.25
	slowRun    = 7
	runSlower  = 0.08
	runFaster  = 0.15
	// lateCycles is how many cycles after its push a misfire comes to light.
	lateCycles = 4
)

// pushes are those of one cylinder.
type pushes struct {
	slow    [beatsKept]float64 // slowing, by cycle
	last    [slowingsKept]float64
	sorted  [slowingsKept]float64 // last, in order
	n       int                   // that went into last
	limit   float64               // the slowing of a misfire
	scatter float64               // of slowings
	upper   float64               // mean of the upper heap of slowings, where they fall into two
	apart   float64               // how far the heaps stand apart, 0 of one heap
	looks   int                   // in a row that it seemed dead
	longer  longer                // of those that looked missing
	// strained is how often in a row it seemed so in an engine that draws little.
	strained int
	dead     bool
}

// keep takes a slowing into last and sorted.
func (p *pushes) keep(slow float64) {
	n := min(p.n, slowingsKept)
	oldest := &p.last[p.n%slowingsKept]
	if n == slowingsKept {
		at, _ := slices.BinarySearch(p.sorted[:n], *oldest)
		copy(p.sorted[at:], p.sorted[at+1:])
		n--
	}
	at, _ := slices.BinarySearch(p.sorted[:n], slow)
	copy(p.sorted[at+1:], p.sorted[at:n])
	p.sorted[at], *oldest = slow, slow
	p.n++
}

// learn renews limit and scatter.
func (p *pushes) learn() {
	n := min(p.n, slowingsKept)
	all := p.sorted[:n]
	at := func(part float64) float64 { return all[int(part*float64(n-1)+0.5)] }
	const middle, wide = 1.2816, 1.349 // standard deviations from 10 to 50 %, from 25 to 75 %
	p.scatter = (at(0.75) - at(0.25)) / wide
	p.limit = at(0.5) + max(minSlowing, slowingSDs*(at(0.5)-at(0.1))/middle)
	p.apart = 0
	switch lower, upper, below, sd := heaps(all); {
	case upper-lower < max((apartSDs+fewApart/float64(n))*sd, minSlowing):
	case float64(below) < sureHeap*float64(n):
		p.limit = upper + max(minSlowing, (upper-lower)/2)
	default:
		p.limit = max(lower+heapPart*(upper-lower), minSlowing)
		p.upper, p.apart = upper, upper-lower
	}
}

// learn renews what is usual of all pushes. After a misfire the cylinder's own dip comes a little
// late, which looks like two heaps of slowings of another cylinder, nearer together than its own.
func (m *Watch) learn() {
	m.apart = 0
	for y := range m.beats.n {
		if p := &m.pushes[y]; p.n > 1 {
			p.learn()
			m.apart = max(m.apart, p.apart)
		}
	}
	for y := range m.beats.n {
		switch p := &m.pushes[y]; {
		case p.apart == 0: // a misfire costs each cylinder about the same
			p.limit = max(p.limit, m.apart/2)
		case p.apart < ownHeaps*m.apart:
			p.limit = p.upper + max(minSlowing, p.apart/2)
		}
	}
}

// Watch finds misfires and dead cylinders. The zero value is ready.
type Watch struct {
	beats  beats
	pushes [MaxCylinders]pushes
	apart  float64 // how far the heaps of any cylinder stand apart
	end    float64 // when the next cycle begins, s
	period float64 // slow mean, s
	base   float64 // the period at which slowings are learned, s
	placed float64 // that from which on the usual places of beats are learned, s
	// before is the last period; for run cycles each was slower than the one before, from runFrom on.
	before, runFrom float64
	run             int
	faster          bool
	calm            int                // cycles since it was left
	spoilt          bool               // a push was missing in the cycle that was judged last
	either          [MaxCylinders]bool // of the last cycle: see Either
	draws           draws
	drop            drop
	dropped         dropped
}

// Cycle is one cycle of an engine.
type Cycle struct {
	Start, Period float64   // s
	Dip           []float64 // where in the cycle each cylinder's dip usually is, 0 to below 1, by cylinder - 1
	// Beat returns the moment, s, of the beat whose dip is near a time, and how far the pressure falls in it, kPa;
	// NaN where there is none.
	Beat          func(cylinder int, dip float64) (moment, fall float64)
	Draw, Ambient float64 // the mean draw of all cylinders, and the air pressure, kPa
	// Lags are the hoses', s; nil if one is unknown.
	Lags *[MaxCylinders]float64
}

// Push takes the next cycle, and returns whose misfires come to light, by cylinder - 1.
func (m *Watch) Push(y *Cycle) (unburnt [MaxCylinders]bool) {
	if m.beats.moved(y.Dip) {
		m.Lose()
		m.dropped.is = 0
	}
	m.either = [MaxCylinders]bool{}
	if unburnt = m.judge(y); m.dropped.is > 0 {
		unburnt[m.dropped.is-1] = true
	}
	return unburnt
}

// judge is Push of what the beats show from cycle to cycle.
func (m *Watch) judge(y *Cycle) (unburnt [MaxCylinders]bool) {
	m.drop.push(y)
	b := &m.beats
	for range m.skipped(y) {
		b.skip()
		m.noteSlowings()
	}
	b.push(y)
	m.end = y.Start + y.Period
	m.noteSlowings()
	m.findDropped(y)
	k := b.cycles - lateCycles
	if k < 1 || !m.isCalm(y) {
		return unburnt
	}
	before, here := m.spoilt, false
	m.spoilt = false
	for c := range b.n {
		p := &m.pushes[c]
		common, slow := max(m.common(c, k), 0), p.slow[k&(beatsKept-1)]
		own := m.own(c, k)
		unburnt[c] = p.n >= minSlowings && own-common > p.limit && m.isWorst(c, k, own)
		m.spoilt = m.spoilt || unburnt[c]
		here = here || unburnt[c] && b.home[c] < 0
		if common < minSlowing && slow == slow {
			p.keep(slow)
		}
	}
	// A push that is missing has the beats after it come late, in the next cycle; once cycles begin later, in its own.
	b.learn(k, before || here)
	if b.cycles%learnEvery == 0 {
		m.learn()
	}
	if b.cycles%deadEvery == 0 {
		m.findDead(y)
	}
	for c := range b.n {
		missing := unburnt[c] && m.longer(c, k)
		for o := range b.n {
			m.either[o] = m.either[o] || missing && b.shared(c) && (o == c || b.together(c, o))
		}
		unburnt[c] = missing && m.isKnown(c, k) || m.pushes[c].dead
	}
	return unburnt
}

// nearShared is the share of a push's slowing that one beside it, which is shared, has at most where that is the push
// that was missing. Chosen: of fours at 0, 270, 450 and 540 degrees 22 of 141 misfires were laid at the next cylinder.
const nearShared = 0.5

// isKnown reports whether it can be told that it was the push of cylinder y in cycle k that was missing: no other lies
// between the same two beats, nor does one that does seem to have been missing.
func (m *Watch) isKnown(y, k int) bool {
	if m.beats.shared(y) {
		return false
	}
	known, own := true, m.own(y, k)
	m.neighbours(y, k, func(c, cycle int) {
		known = known && !(m.beats.shared(c) && m.own(c, cycle) > nearShared*own)
	})
	return known
}

// skipped returns how many cycles before y were not told, up to as many as beats are kept of: their neighbours' beats
// lie further apart for that.
func (m *Watch) skipped(y *Cycle) int {
	if m.beats.cycles == 0 {
		return 0
	}
	return min(max(int(math.Round((y.Start-m.end)/y.Period)), 0), beatsKept)
}

// noteSlowings works out the slowings of the last cycle that has beats on both sides of its pushes.
func (m *Watch) noteSlowings() {
	k := m.beats.cycles - lateCycles + 1
	for c := range m.beats.n {
		m.pushes[c].slow[k&(beatsKept-1)] = m.beats.slowing(c, k)
	}
}

// Lose tells that the cycles were lost: where they begin is another place from now on. A speed that has dropped stays
// that, as it may be lost for a blip.
func (m *Watch) Lose() {
	kept := Watch{draws: m.draws}
	if m.drop.fell {
		kept.drop, kept.dropped = m.drop, dropped{is: m.dropped.is, period: math.NaN()}
	}
	*m = kept
}

// CanShift reports whether cycles may begin later: each Shift has the beats come earlier in their cycles, and after
// three they would lie too far back.
func (m *Watch) CanShift() bool { return m.beats.home[0] >= -1 }

// Shift moves the cycles' beginnings later by a share of a cycle.
func (m *Watch) Shift(by float64) {
	b := &m.beats
	m.end += by * m.period
	for c := range b.n {
		b.home[c] -= by
		b.place[c] -= by
		m.dropped.place[c] -= by
		for k := range b.part[c] {
			b.part[c][k] -= by
		}
	}
}

// isCalm takes the last cycle, and reports whether no hand is on the throttle.
func (m *Watch) isCalm(y *Cycle) bool {
	period := y.Period
	m.draws.push(y.Draw)
	if m.period == 0 {
		m.period, m.before, m.runFrom, m.base, m.placed = period, period, period, period, period
	}
	if m.run++; period < m.before != m.faster {
		m.run, m.runFrom, m.faster = 0, m.before, period < m.before
	}
	m.before = period
	m.period += (period - m.period) / meanCycles
	m.calm++
	m.base += (m.period - m.base) / slowingsKept
	if math.Abs(m.period-m.base) > anotherSpeed*m.base { // hoses move the beats apart by other shares of a cycle
		m.base, m.calm = m.period, 0
		for y := range m.pushes {
			m.pushes[y].n = 0
		}
	}
	// What was learned on the way from another speed, as after a blip, is of that: hoses move beats otherwise.
	if m.calm == lateCycles+1 && math.Abs(period-m.placed) > anotherSpeed*m.placed {
		m.placed, m.base, m.calm = period, m.period, 0
		m.beats.anew()
		for y := range m.pushes {
			m.pushes[y].n = 0
		}
	}
	if m.draws.shut || period < idlePeriod || math.Abs(period-m.period) > periodOff*m.period || m.run >= slowRun &&
		(period > (1+runSlower)*m.runFrom || period < (1-runFaster)*m.runFrom) {
		m.calm = 0
		for y := range m.pushes {
			m.pushes[y].looks, m.pushes[y].strained = 0, 0
		}
	}
	return m.calm > lateCycles
}

// own returns the slowing of the push of cylinder y in cycle k, less what a beat beside it does that came late: the
// push at that beat then speeds the crank up, by twice as much as those before and after it slow it down. The next
// beat of a cylinder that misfired comes late: measured at 1400 rpm, it had another one told in one misfire of twelve.
func (m *Watch) own(y, k int) float64 {
	b := &m.beats
	nearest, beside := [2]float64{nearPush, nearPush}, [2]float64{} // before and after
	for c := range b.n {
		for j := -1; j <= 1; j++ {
			off, side := b.place[c]+float64(j)-b.place[y], 1
			if off < 0 {
				off, side = -off, 0
			}
			if c != y && off < nearest[side] {
				nearest[side], beside[side] = off, m.pushes[c].slow[(k+j)&(beatsKept-1)]
			}
		}
	}
	slow := m.pushes[y].slow[k&(beatsKept-1)]
	for _, v := range beside {
		if v < 0 {
			slow += v / 2
		}
	}
	return slow
}

// neighbours calls f with the cylinders whose pushes are near that of cylinder y in cycle k, and with their cycles.
func (m *Watch) neighbours(y, k int, f func(c, cycle int)) {
	b := &m.beats
	for c := range b.n {
		for j := -1; j <= 1; j++ {
			if off := b.place[c] + float64(j) - b.place[y]; c != y && off > -nearPush && off < nearPush {
				f(c, k+j)
			}
		}
	}
}

// common returns the slowing that the pushes around that of cylinder y in cycle k have in common: their
// lower median.
func (m *Watch) common(y, k int) float64 {
	var near [2 * MaxCylinders]float64
	n := 0
	m.neighbours(y, k, func(c, cycle int) {
		near[n] = m.pushes[c].slow[cycle&(beatsKept-1)]
		n++
	})
	if n == 0 {
		return 0
	}
	slices.Sort(near[:n])
	return near[(n-1)/2]
}

// isWorst reports whether none of the pushes around that of cylinder y, whose own slowing in cycle k is given, slow the
// crank by more.
func (m *Watch) isWorst(y, k int, slow float64) bool {
	worst := true
	m.neighbours(y, k, func(c, cycle int) { worst = worst && !(m.own(c, cycle) > slow) })
	return worst
}
