package session

import (
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/cycle"
)

// A record is of cycles in which every channel was sound.
func TestUsable(t *testing.T) {
	t.Parallel()
	reading := func(last cycle.State) *balance.Reading {
		r := &balance.Reading{Cycles: 8, Cylinders: make([]balance.Cylinder, 2)}
		r.Span.Cycle = true
		r.Cylinders[0].State, r.Cylinders[1].State = cycle.OK, last
		return r
	}
	none, gap := reading(cycle.OK), reading(cycle.OK)
	none.Cycles, gap.Span.Cycle = 0, false
	for name, c := range map[string]struct {
		r    *balance.Reading
		want bool
	}{
		"sound": {reading(cycle.OK), true}, "hose off": {reading(cycle.Ambient), false}, "none": {nil, false},
		"cut off": {reading(cycle.CutOff), false}, "no cycles": {none, false}, "no cycle now": {gap, false},
	} {
		if got := Usable(c.r); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// A turn stands in the journal once something was seen to move upon it: by the word to stop, and where the next
// screw was told before there was one.
func TestJournalSteps(t *testing.T) {
	t.Parallel()
	turn := func(screw int, why advice.Why) advice.Advice {
		return advice.Advice{Kind: advice.Turn, Part: advice.SyncScrew, Screw: screw, Why: why}
	}
	amount := func(a advice.Advice, turns float64) advice.Advice {
		a.Turns = turns
		return a
	}
	stop := advice.Advice{Kind: advice.Stop, Part: advice.SyncScrew, Screw: 1}
	nut := advice.Advice{Kind: advice.Recheck, Part: advice.SyncScrew, Screw: 1, Why: advice.WhyNuts}
	wait := advice.Advice{Kind: advice.Wait}
	for name, c := range map[string]struct {
		told []advice.Advice
		want int
	}{
		"stop": {[]advice.Advice{turn(1, advice.WhyTry), stop, wait}, 1},
		"seen, no stop": {[]advice.Advice{turn(1, advice.WhyTry), turn(1, advice.WhyKeepOn),
			turn(2, advice.WhyTry)}, 1},
		"seen, then stop": {[]advice.Advice{turn(1, advice.WhyTry), turn(1, advice.WhySlower), stop, wait}, 1},
		"nothing seen":    {[]advice.Advice{turn(1, advice.WhyTry), turn(2, advice.WhyTry), wait}, 0},
		"taken for done":  {[]advice.Advice{turn(1, advice.WhyTry), turn(1, advice.WhyKeepOn), wait}, 1},
		"amount by amount": {[]advice.Advice{amount(turn(1, advice.WhyTry), 0.125),
			amount(turn(1, advice.WhyKeepOn), 0.125), amount(turn(1, advice.WhyUnlevel), 0.375),
			amount(turn(1, advice.WhyKeepOn), 0.375),
			amount(turn(1, advice.WhyUnlevel), 0.375), amount(turn(1, advice.WhyKeepOn), 0.375), wait}, 3},
		"an amount not begun": {[]advice.Advice{amount(turn(1, advice.WhyTry), 0.125),
			amount(turn(1, advice.WhyTry), 0.25), amount(turn(1, advice.WhyKeepOn), 0.25), wait}, 1},
		"right at once":    {[]advice.Advice{turn(1, advice.WhyUnlevel), nut, wait}, 1},
		"seen on the next": {[]advice.Advice{turn(1, advice.WhyTry), turn(2, advice.WhyKeepOn), wait}, 1},
	} {
		var j Journal
		for _, a := range c.told {
			j.push(&balance.Reading{Advice: a})
		}
		if len(j.Steps) != c.want {
			t.Errorf("%s: %d steps, want %d", name, len(j.Steps), c.want)
		}
	}
}

// The bank as it was found is that of the first advice; where that came before the speed had settled, as it is read
// then, unless something moves first.
func TestJournalBefore(t *testing.T) {
	t.Parallel()
	turn := advice.Advice{Kind: advice.Turn, Part: advice.SyncScrew, Why: advice.WhyTry}
	goesOn := turn
	goesOn.Why = advice.WhyKeepOn
	reading := func(a advice.Advice, steady bool, cycles int) *balance.Reading {
		return &balance.Reading{Advice: a, Steady: steady, Cycles: cycles}
	}
	early, few := reading(turn, false, 9), reading(turn, true, 1)
	settled, later := reading(turn, true, 8), reading(turn, true, 12)
	moving, waits := reading(goesOn, true, 9), reading(advice.Advice{Kind: advice.Wait}, true, 20)
	stopped := reading(advice.Advice{Kind: advice.Stop, Part: advice.SyncScrew}, true, 9)
	early.Spread, settled.Spread, later.Spread = 3.2, 3.9, 4.1
	for name, c := range map[string]struct {
		pushed []*balance.Reading
		want   *balance.Reading
	}{
		"settled":        {[]*balance.Reading{waits, settled, later}, settled},
		"settles":        {[]*balance.Reading{early, few, later}, later},
		"moves first":    {[]*balance.Reading{early, few, moving, later}, early},
		"stops first":    {[]*balance.Reading{early, stopped, later}, early},
		"settles, stops": {[]*balance.Reading{early, settled, later, stopped}, settled},
		"nothing to say": {[]*balance.Reading{waits}, nil},
	} {
		var j Journal
		for _, r := range c.pushed {
			j.push(r)
		}
		if j.Before != c.want {
			t.Errorf("%s: %+v", name, j.Before)
		}
		if len(j.Steps) > 0 && j.Steps[0].Spread != c.want.Spread {
			t.Errorf("%s: the first turn begins at %v, the record at %v", name, j.Steps[0].Spread, c.want.Spread)
		}
	}
}
