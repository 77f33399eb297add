package cycle

import "math"

// Short records. Live, a period is looked for once minSearchSteps have come, and what was before is given up in part.
// Where the input has ended soon after, all of it is looked through for as many cycles as it holds.

const (
	// shortSeconds is up to how long an input is short, s. Chosen: longer ones show more cycles than live is late by.
	shortSeconds = 1.5
	// leastPeriods is how many periods such an input must hold for one to be taken for true. Chosen: with two, each
	// half of it may be what repeats by chance.
	leastPeriods = 3
	// leastCycles is how many cycles must be found in it, each as long as the one before within rhythmShare, and
	// perMiss how many spans for each that matches none, as of a misfire. Chosen.
	leastCycles, perMiss = 2, 5
)

// IsShort reports whether the input so far is one stretch of less than shortSeconds, so that Finish may yet find more
// in it than Push.
func (t *Tracker) IsShort() bool {
	return t.parts == 1 && t.history.newest()-t.history.oldest() < shortSeconds
}

// Finish tells that the input has ended; nothing is pushed after it. Of an input that IsShort it returns the cycles
// that it holds, in place of the spans that Push gave of it; nil where it found none, and of any other input.
func (t *Tracker) Finish() []Span {
	h := t.history
	last := h.count - 1 - t.despike.delay()
	if !t.IsShort() || last < 2 {
		return nil
	}
	fresh := NewTracker(t.cfg)
	fresh.history, fresh.despike, fresh.health.ambient = h, t.despike, t.health.ambient
	fresh.follow.intake.ambient, fresh.course.zeroSD = t.follow.intake.ambient, t.course.zeroSD
	fresh.despike.advance(h, last)
	return fresh.cyclesUntil(h.at(last))
}

// cyclesUntil returns the cycles that the history holds until a time; nil where they are too few or too unlike.
func (t *Tracker) cyclesUntil(end float64) (spans []Span) {
	h, f := t.history, t.follow
	t.acquire.reach(h, end)
	period, found := t.acquire.period(h, end)
	if !found || leastPeriods*period > end-h.oldest() {
		return nil
	}
	if f.begin(h, period, end); f.active {
		f.startEarly(h, end)
	}
	t.emittedUntil = h.oldest()
	missed := 0
	for f.active && f.readyAt() <= end && t.takeCycle() {
		if math.Abs(t.span.Period-period) > rhythmShare*period {
			return nil
		}
		if spans, period = append(spans, t.span), t.span.Period; !t.span.Cycle {
			missed++
		}
	}
	if len(spans) < max(leastCycles, perMiss*missed) {
		return nil
	}
	return spans
}

// startEarly moves the boundary to where the most cycles follow in what is held until a time: of those boundaries, the
// one that costs least.
func (f *follow) startEarly(h *history, until float64) {
	// In cycles, between the first boundary that may be and the last.
	room := (until-h.oldest())/f.period - halfWindow - windowMargin - lookAhead
	at := (f.boundary-h.oldest())/f.period - halfWindow - windowMargin
	earliest := func(bin int) float64 { // such a boundary, in cycles from the first that may be
		x := at + float64(bin)/bins
		return x - math.Floor(x)
	}
	most := math.Floor(room)
	if most < 1 {
		return
	}
	cost := f.template.boundaryCosts(&f.sick)
	best := -1
	for i := range cost {
		if earliest(i) <= room-most && (best < 0 || cost[i] < cost[best]) {
			best = i
		}
	}
	if best < 0 {
		return
	}
	f.template.rotate(best)
	t := f.boundary + f.period*(float64(best)/bins)
	for back := math.Floor(at + float64(best)/bins); back > 0; back-- {
		t = f.fit.boundary(h, f.template, t, f.period) - f.period
	}
	f.boundary = f.fit.boundary(h, f.template, t, f.period)
}
