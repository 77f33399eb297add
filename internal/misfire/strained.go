package misfire

import "evendraw/internal/pressure"

// An engine that idles though one cylinder never fires has its throttle stop screwed in: the others make up for it, and
// all draw less than an idle does. Their runners are full early, so that lags are known badly, and the crank runs so
// quickly that a missing push is hardly more than what hoses do. But no sound idle draws so little, and in such an
// engine less is enough to tell: a push that is quiet, and that leaves the crank slower in the mean than any other, be
// the hoses alike or as their lags are fitted.

// Constants of that.
const (
	// An engine idles with that much air below strainedDraw of the usual draw of an idle, a twin, of which nothing but
	// the quiet push tells, below strainedTwin. Chosen. Measured on practice engines, in kPa at sea level, at 600 to
	// 2000 rpm: sound ones 28 to 20, with a cylinder that never fires and the stop screwed in fours 18 to 15, triples
	// 15 to 13, twins 12 to 11; on those of another model 20 and more, 14 to 11, 11 to 8, and 8 to 3.
	strainedDraw = 0.75
	strainedTwin = 0.6
	// strainedSlowing, over the number of cylinders, is the least slowing after its push, and quietTwin how much less
	// than the other's the push of a twin scatters, by the squares. Chosen: both to be seen, on engines of the other
	// model 0.18 to 0.26 of a four; 0.03 to 0.13 of twins at 360, 410 and 450 degrees, 0.46 and more of sound ones.
	strainedSlowing = 0.12
	quietTwin       = 0.2
	// strainedCycles is how many cycles it takes, strainedLooks how many looks in a row. Chosen: 6 s.
	strainedCycles = 48
	strainedLooks  = 5
	// stillStrained is how much more than strainedDraw one that was told may draw. Chosen.
	stillStrained = 1.1
)

// draws reports whether the engine draws less than that share of what an idle usually does.
func (y *Cycle) draws(less float64) bool {
	return y.Draw < less*float64(pressure.IdleDraw(pressure.KPa(y.Ambient)))
}

// seemsDead reports whether cylinder c of an engine that draws little seems never to fire, by its push and the mean
// slowings after all pushes, raw with hoses taken for alike, slow with their lags undone; -Inf where they are unknown.
func (m *Watch) seemsDead(y *Cycle, c int, raw, slow *[MaxCylinders]float64) bool {
	p, n := &m.pushes[c], m.beats.n
	if p.n < strainedCycles || m.apart > 0 {
		return false
	}
	if n == 2 {
		return y.draws(strainedTwin) && m.quiet(c, 0) < min(quietTwin, p.surelyQuiet())
	}
	return y.draws(strainedDraw) && m.quiet(c, 0) < p.surelyQuiet() && (slowest(c, n, raw) || slowest(c, n, slow))
}

// slowest reports whether the crank is slower after the push of cylinder c than after any other of n, by enough, and by
// no more than a missing push explains.
func slowest(c, n int, slow *[MaxCylinders]float64) bool {
	for o := range n {
		if o != c && slow[o] >= slow[c] {
			return false
		}
	}
	return slow[c] > strainedSlowing/float64(n) && slow[c] < mostSlowing/float64(n)
}
