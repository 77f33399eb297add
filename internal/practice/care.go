package practice

import (
	"fmt"
	"math"
	"strings"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/engine"
	"evendraw/internal/plain"
	"evendraw/internal/session"
)

// Care is what a mechanic who takes heed does beside turning screws: told of a fault, he stops the engine, turns back
// what he is told to, looks for the cause, mends it, and says each of these. The functions must be set.
type Care struct {
	GoOn    func()                  // the key that goes on past a fault, once what is told was done
	Begin   func()                  // the levelling is begun: what was told before was not followed
	Again   func()                  // goes back to the levelling where the job has come further
	Watch   func(on bool)           // begins the watch for air leaks, or ends it
	Tune    func() *session.Tune    // what that says
	Reading func() *balance.Reading // the newest, nil for none yet
	Ready   func() bool             // whether it is the levelling that is told, on a screen of steps
	Say     func(text string)       // says what is done
	Lesson  string                  // what was the matter, said at the end
	Stays   bool                    // the job goes on by the keys once he has levelled the bank
	Found   func(text string)       // keeps a finding for the record; it is said too

	m       *Mechanic
	from    map[int]float64 // where each screw stood when it was named first since the last fault, turns
	times   map[trouble]int // how often each was told since something was mended
	at      trouble         // the one worked at
	doubts  []int           // the cylinders that were in doubt once the bank read level, and are yet to be looked at
	unfound int             // the last of them at which nothing was found; 0 is none
	answers advice.Why      // the fault that is worked at
	warmed  bool
	hot     bool   // heat has stopped him, and he has not gone on yet
	sick    bool   // something was found that nobody mends beside the bank
	gaveUp  string // why nothing more is levelled, "" for that it is
	over    bool
	sparks  map[int]bool // cylinders whose plug, cap and lead were looked at
}

// trouble is what a fault is counted as: a cylinder at fault, whatever its signs, or a fault of a screw or of all.
type trouble struct {
	cylinder int // 0 for none; else why and screw are not set
	why      advice.Why
	screw    int
}

func troubleOf(a *advice.Advice) trouble {
	if a.Cylinder > 0 {
		return trouble{cylinder: a.Cylinder}
	}
	return trouble{why: a.Why, screw: a.Screw}
}

// How long things take, s. All chosen: what stands for less is not read.
const (
	wordS    = 4.0  // a word to stop the engine stands until it is obeyed
	sayS     = 6.0  // a sentence of what is done, and the doing
	startS   = 8.0  // from the starter to an idle that can be read
	learnS   = 40.0 // the watch for leaks is given to learn how much air is usual
	dryS     = 20.0 // a joint is given to dry
	coldS    = 12.0 // a cold engine is let idle, less than what counts as settled
	heatS    = 2.0  // the word to stop for heat is read, and obeyed
	mostLook = 3    // times that one trouble is worked at until it is given up
)

// Careful gives the mechanic care, which must not be shared.
func (m *Mechanic) Careful(c *Care) {
	c.m, m.care = m, c
	c.times, c.from, c.sparks = map[trouble]int{}, map[int]float64{}, map[int]bool{}
}

// do says what is begun, begins it, and takes its time; an empty text says nothing.
func (c *Care) do(say string, takes float64, begin func()) {
	c.m.errands.addTimed(func() float64 {
		if say != "" {
			c.Say(say)
		}
		if begin != nil {
			begin()
		}
		return takes
	}, nil)
}

// await goes on with then as soon as something is so, or after so many seconds.
func (c *Care) await(seconds float64, so func() bool, then func(so bool)) {
	until := math.NaN()
	var look func()
	look = func() {
		if math.IsNaN(until) {
			until = c.m.now + seconds
		}
		switch {
		case so():
			then(true)
		case c.m.now >= until:
			then(false)
		default:
			c.m.errands.add(lookS, look)
		}
	}
	c.m.errands.add(0, look)
}

// lookS is how often something awaited is looked at, s.
const lookS = 0.25

// warm warms a cold engine before anything is turned, and reports whether that is still under way.
func (c *Care) warm() bool {
	if c.warmed {
		return false
	}
	c.warmed = true
	if c.m.engine.Truth().Warm >= 1 {
		return false
	}
	c.do("The engine is cold: its idle changes. The virtual mechanic turns nothing before it is warm.", coldS, nil)
	c.do("Waiting would take minutes of idling. He stops it; sensor hoses, board and fuel bottle off, port plugs "+
		"and tank on, for a ride.", sayS, c.m.engine.Stop)
	c.do("He rides until it is warm. (Here that takes a moment.)", sayS, nil)
	c.await(sayS, c.m.engine.Ride, func(bool) {
		c.Found("The engine was cold: the virtual mechanic has ridden it warm before he turned a screw.")
		c.do("Back, warm, the hoses on their ports again. He starts it and waits until its speed holds.", startS,
			c.m.engine.Start)
		c.do("", settledS, nil)
		c.do("", 0, func() {
			c.Begin()
			c.Say("")
		})
	})
	return true
}

// settledS is for how long the speed of a warm engine must hold until it is levelled, s: as the step that warms it
// asks, and a little.
const settledS = 16.0

// named notes where a screw stands that is named.
func (c *Care) named(screw int) {
	if _, ok := c.from[screw]; !ok && screw >= 0 {
		c.from[screw] = c.m.engine.Truth().ScrewTurns[screw]
	}
}

// find notes a finding, and says it.
func (c *Care) find(text string) {
	c.Found(text)
	c.Say(text)
}

// heed does what a fault asks for, or a screw that nothing answers to, and reports whether that is what it is told.
func (c *Care) heed(a *advice.Advice) bool {
	switch {
	case a.Why == advice.WhyNoAnswer:
		c.answers = a.Why
		c.noAnswer(a)
		return true
	case a.Kind != advice.Fault:
		return false
	}
	switch a.Why {
	case advice.WhyMisfires, advice.WhyLean, advice.WhyLeakNext, advice.WhyDead, advice.WhyFar, advice.WhyIdleFell,
		advice.WhyShowsLess, advice.WhyOneSilent, advice.WhyOneMisfires:
		told := *a
		c.answers = told.Why
		c.do("", wordS, nil)
		c.do("", 0, func() {
			if now := c.m.seen; now.Kind == advice.Fault && now.Cylinder == told.Cylinder { // more is known by now
				told, c.answers = now, now.Why
			}
			c.fault(&told)
		})
		return true
	}
	return false // as of a doubt, which goes on by itself
}

// stop stops the engine.
func (c *Care) stop() { c.do("The virtual mechanic stops the engine, as told.", sayS, c.m.engine.Stop) }

// start starts the engine once it is cool enough, goes on past what was told, as that was done, past nothing else, and
// then does what follows, nil for nothing.
func (c *Care) start(say string, then func()) {
	c.await(math.Inf(1), c.cool, func(bool) {
		c.do(say, startS, c.m.engine.Start)
		c.do("", 0, func() {
			clear(c.from)
			if c.m.seen.Why == c.answers || c.m.seen.Kind != advice.Fault && c.m.seen.Why != advice.WhyNoAnswer {
				c.GoOn()
			}
			if c.Say(""); then != nil {
				then()
			}
		})
	})
}

// cool reports whether nothing tells that the engine must stand to cool.
func (c *Care) cool() bool { return c.m.seen.Why != advice.WhyHot }

// heat obeys the word to stop for heat before all else: what is under way is left, and begun anew once it is told.
func (c *Care) heat() {
	if c.cool() || c.hot || c.over || !c.m.engine.Truth().Running {
		return
	}
	c.hot = true
	if c.m.errands.busy() && c.times[c.at] > 0 {
		c.times[c.at]-- // it was not worked at to its end
	}
	c.m.errands = errands{}
	c.m.letGo(c.m.now)
	c.Watch(false)
	c.do("", heatS, nil)
	c.do("The virtual mechanic leaves all as it is and stops the engine, as told: it must cool.", sayS,
		c.m.engine.Stop)
	c.await(math.Inf(1), c.cool, func(bool) {
		c.hot, c.answers = false, ""
		c.start("It has cooled. He starts it again.", nil)
	})
}

// turnBack turns a screw back by so many turns, clockwise positive.
func (c *Care) turnBack(screw int, turns float64, why string) {
	name := c.m.bank.Screws[screw].Name
	text := fmt.Sprintf("Screw %s goes back %s, by %s, %s.", name, advice.WayOf(turns),
		plain.TurnsOf(math.Abs(plain.RoundNet(turns))), why)
	c.do(text, sayS, func() { c.m.Begin(c.m.now, screw, turns) })
	c.await(2*engine.ScrewTravel/handSpeed, func() bool { return !c.m.Busy() }, func(bool) {})
}

// noAnswer turns back a screw that has moved nothing, and looks at its arm.
func (c *Care) noAnswer(a *advice.Advice) {
	c.do("", wordS, nil)
	screw := a.Screw
	by := c.from[screw] - c.m.engine.Truth().ScrewTurns[screw]
	if _, named := c.from[screw]; !named || math.Abs(by) < leastBack {
		c.do(fmt.Sprintf("Screw %s was not turned yet: he presses g.", a.ScrewName), wordS, c.GoOn)
		c.do("", 0, func() { c.Say("") })
		return
	}
	c.turnBack(screw, by, "as told")
	c.do(fmt.Sprintf("Screw %s moves nothing: engine off. The virtual mechanic looks at its nut and at its arm.",
		a.ScrewName), sayS, c.m.engine.Stop)
	c.do("", sayS, func() {
		for _, w := range c.m.engine.Wrongs() {
			if w.Kind == engine.Unseated && w.Screw == screw && c.m.engine.Mend(w) {
				c.find(mended(c.m.bank, w, auto))
				return
			}
		}
		c.Say("Nut, screw and arm are in order.")
	})
	c.start("He starts it again, and levels on.", nil)
}

// farTurns is how far a screw stands that is looked at as turned far, turns: what the words that tell it call so.
const farTurns = 2.0

// leastBack is the least that is turned back, turns. Chosen: a hair.
const leastBack = 1.0 / 64

// fault obeys a fault whose word has stood: it stops the engine, turns back what it is told, and looks for the cause.
func (c *Care) fault(a *advice.Advice) {
	if a.Why == advice.WhyFar && math.Abs(c.m.engine.Truth().ScrewTurns[a.Screw]) < farTurns {
		c.do(fmt.Sprintf("Screw %s stands %s from where it began, as he has counted: not far. He presses g.",
			a.ScrewName, plain.TurnsOf(math.Abs(plain.RoundNet(c.m.engine.Truth().ScrewTurns[a.Screw])))), sayS, c.GoOn)
		c.do("", 0, func() { c.Say("") })
		return
	}
	c.at = troubleOf(a)
	if c.times[c.at]++; c.times[c.at] > mostLook {
		c.giveUp(a)
		return
	}
	c.stop()
	by := c.told(a)
	if by != 0 {
		c.turnBack(a.Screw, by, "as told")
	}
	leak := func(cylinder int, next func()) { c.lookLeak(cylinder, by == 0, next) }
	looks := []func(cylinder int, next func()){c.lookSpark, leak}
	switch {
	case a.Why == advice.WhyShowsLess:
		looks = []func(int, func()){c.lookWorn, leak}
	case a.Why != advice.WhyMisfires || a.ScrewName != "":
		looks = []func(int, func()){leak, c.lookSpark}
	}
	found := "Nothing was found. It goes on as it is."
	if a.Why == advice.WhyFar {
		found = "No leak. Valve and compression come after, where a cylinder is in doubt then."
	}
	none := func() { c.start(found, nil) }
	looks[0](a.Cylinder, func() { looks[1](a.Cylinder, none) })
}

// told returns by how much a screw is told to be turned back, clockwise positive, as the words round it, but never
// further than it was turned; 0 for none.
func (c *Care) told(a *advice.Advice) float64 {
	if a.Why != advice.WhyLean && a.Why != advice.WhyDead || a.Screw == advice.NoScrew || !(a.Turns > 0) {
		return 0
	}
	by := a.SignedTurns()
	made := c.m.engine.Truth().ScrewTurns[a.Screw]
	if by*made >= 0 {
		return 0
	}
	return math.Copysign(min(max(math.Round(8*math.Abs(by))/8, 1.0/8), math.Abs(made)), by)
}

// giveUp ends the work on an engine whose fault comes again and again.
func (c *Care) giveUp(a *advice.Advice) {
	what := "the idle falls again and again"
	switch {
	case a.Cylinder > 0:
		what = fmt.Sprintf("cylinder %d is still at fault", a.Cylinder)
	case a.Why == advice.WhyFar:
		what = fmt.Sprintf("screw %s is found far from where it began, again and again", a.ScrewName)
	}
	c.gaveUp = what
	c.stop()
	c.do("", 0, c.finish)
}

// end is what is done once the bank reads level: a cylinder that is in doubt is looked at, the engine off, and a leak
// too small to be in doubt is felt for, as the words of a level bank say. It reports whether nothing is left to do.
func (c *Care) end() bool {
	if c.doubts = doubted(c.Reading()); c.sick || len(c.doubts) > 0 {
		c.do("", lastS, nil)
		c.do("The bank reads level, but is in doubt: engine off, as told. The cause comes first.", sayS,
			c.m.engine.Stop)
		c.do("", 0, c.lookDoubts)
		return false
	}
	if w, hidden := c.wrong(engine.Leaks, 0); hidden {
		c.do("", lastS, nil)
		c.do("A level bank can hide a small leak: engine off. Once it is cold he feels boots, port plugs "+
			"and small hoses.", sayS, c.m.engine.Stop)
		c.do("", 0, func() { c.mend(w, "He starts it, lets it get warm, and levels again.", c.Again) })
		return false
	}
	c.finish()
	return true
}

// doubted returns the cylinders that are in doubt, from 1; r may be nil.
func doubted(r *balance.Reading) (cylinders []int) {
	if r == nil {
		return nil
	}
	for i := range r.Cylinders {
		if r.Cylinders[i].Doubt != "" {
			cylinders = append(cylinders, i+1)
		}
	}
	return cylinders
}

// lastS is for how long the word that the bank is level stands until the engine is switched off, s. Chosen: the steps
// that follow by themselves have come, the record is made.
const lastS = 10.0

// finish says how it ended.
func (c *Care) finish() {
	c.over = true
	end := "The virtual mechanic has levelled the bank."
	switch {
	case c.gaveUp != "":
		end = "The virtual mechanic levels no further: " + c.gaveUp + "."
		c.Found(end)
	case c.sick:
		end = "The virtual mechanic has switched the engine off: the cause comes first."
	case c.unfound > 0:
		end = fmt.Sprintf("The bank is level, the engine switched off. Cylinder %d stays in doubt: he found no cause.",
			c.unfound)
		c.Found(end)
	case c.Stays:
		end += " Now you go on, by the keys, or switch the engine off."
	}
	c.Say(strings.TrimSpace(end + " " + c.Lesson))
}
