package mixture

import (
	"math"

	"evendraw/internal/cycle"
)

// How long a pilot screw takes, s of idling, whatever the hand and the engine: the logarithm is taken as normally
// distributed, about a mean that is each job's own. Measured on 306 practice twins, triples and fours, a sixth of them
// lumpy; a sixth each of the hands were as the trial's, 1 to 2 s slow and long in finding the slot, 3 to 7 s slow,
// careless, and pressed Enter only when asked. 841 of 918 times fell between what Takes returns, 84 to 95 % by how
// many screws there were and were left.
const (
	// usualScrewS is the median, jobSpread the standard deviation of the job's logarithm, screwSpread that of a screw's
	// about its job's.
	usualScrewS            = 66.0
	jobSpread, screwSpread = 0.25, 0.25
	// takesSigmas is within how many standard deviations nine of ten lie. Derived: normal.
	takesSigmas = 1.645
)

// countIdling counts what a span takes of the idling.
func (t *Trim) countIdling(span *cycle.Span) {
	if !span.Cycle {
		return
	}
	t.state.IdlingS += span.Period
	if t.current() > 0 {
		t.pilot().Seconds += span.Period
	}
}

// Takes returns between which times, s of idling, that many pilot screws are trimmed by, in nine jobs of ten, as far as
// the screws of this job that are done tell: of none it is what is usual. It returns 0 for no screws.
func Takes(screws int, job []Pilot) (least, most float64) {
	if screws <= 0 {
		return 0, 0
	}
	mean := belief{math.Log(usualScrewS), jobSpread}
	for i := range job {
		if p := &job[i]; p.Found.Final() && p.Seconds > 0 {
			mean = mean.joinedWith(belief{math.Log(p.Seconds), screwSpread})
		}
	}
	n := float64(screws)
	by := math.Exp(takesSigmas * math.Hypot(mean.sd, screwSpread/math.Sqrt(n)))
	all := n * math.Exp(mean.mean)
	return all / by, all * by
}
