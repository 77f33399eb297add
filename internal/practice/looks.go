package practice

import (
	"fmt"
	"math"
	"strings"

	"evendraw/internal/airleak"
	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/view"
)

// The one who mends, in a sentence.
const (
	auto   = "the virtual mechanic has"
	byHand = "you have"
)

// mended says what was wrong with a bank's engine, and who has put it right.
func mended(b *bank.Bank, w engine.Wrong, who string) string {
	switch {
	case w.Kind == engine.Unseated:
		return fmt.Sprintf("The arm of carburettor %d stood beside its spring: %s seated it; screw %s answers again.",
			w.Cylinder, who, b.Screws[w.Screw].Name)
	case w.Kind == engine.NoSpark:
		return fmt.Sprintf("The plug cap of cylinder %d was bad: %s fitted a new one.", w.Cylinder, who)
	case w.Kind == engine.Worn:
		return fmt.Sprintf("Cylinder %d has a tight valve, and little compression by it or by worn rings: no "+
			"carburettor screw cures that.", w.Cylinder)
	case w.AtHose:
		return fmt.Sprintf("A small hose at cylinder %d was cracked: %s fitted a new one.", w.Cylinder, who)
	}
	return fmt.Sprintf("The boot of cylinder %d was torn: %s fitted a new boot at cylinder %d.", w.Cylinder, who,
		w.Cylinder)
}

// wrong returns what of a kind is wrong, at a cylinder unless that is 0; ok is false where nothing is.
func (c *Care) wrong(kind engine.WrongKind, cylinder int) (w engine.Wrong, ok bool) {
	for _, w := range c.m.engine.Wrongs() {
		if w.Kind == kind && (w.Cylinder == cylinder || cylinder == 0) {
			return w, true
		}
	}
	return w, false
}

// worn reports whether a cylinder is worn, which nobody mends beside the bank; that is then kept and said.
func (c *Care) worn(cylinder int) bool {
	w, bad := c.wrong(engine.Worn, cylinder)
	if bad {
		c.sick = true
		c.do("", sayS, func() { c.find(mended(c.m.bank, w, auto)) })
	}
	return bad
}

// mend puts right what was found on an engine that stands, says so, and goes on: he starts it with such words, and then
// does what follows, nil for nothing.
func (c *Care) mend(w engine.Wrong, start string, then func()) {
	c.await(sayS, func() bool { return c.m.engine.Mend(w) }, func(bool) {
		c.do("", sayS, func() { c.find(mended(c.m.bank, w, auto)) })
		clear(c.times)
		c.unfound = 0
		c.start(start, then)
	})
}

// levelsOn is said where he starts a mended engine while it is being levelled.
const levelsOn = "He starts it again, and levels the bank."

// lookSpark looks at a cylinder's plug, cap and lead.
func (c *Care) lookSpark(cylinder int, next func()) {
	if cylinder == 0 || c.sparks[cylinder] {
		next()
		return
	}
	c.do(fmt.Sprintf("Engine off. He looks at spark plug, its cap and lead of cylinder %d.", cylinder), sayS,
		c.m.engine.Stop)
	c.do("", 0, func() {
		w, bad := c.wrong(engine.NoSpark, cylinder)
		if c.sparks[cylinder] = true; bad {
			c.mend(w, levelsOn, nil)
			return
		}
		c.do(fmt.Sprintf("Spark plug, cap and lead of cylinder %d are sound.", cylinder), sayS, nil)
		c.do("", 0, next)
	})
}

// lookWorn looks at all that makes a cylinder weak.
func (c *Care) lookWorn(cylinder int, next func()) {
	c.do(fmt.Sprintf("He looks at hose, sensor and boot of cylinder %d, then, the engine cold, at its valve "+
		"clearance, then at its compression.", cylinder), sayS, nil)
	c.do("", 0, func() {
		if c.worn(cylinder) {
			c.do("", 0, c.finish)
			return
		}
		c.do("Hose and sensor are sound, valve clearance and compression as they should be.", sayS, nil)
		c.do("", 0, next)
	})
}

// lookLeak wets the joints one after another, first at a cylinder, 0 for none; all screws are turned back before, where
// none was told to be.
func (c *Care) lookLeak(cylinder int, back bool, next func()) {
	if back {
		for screw, made := range c.m.engine.Truth().ScrewTurns {
			if math.Abs(made) >= leastBack {
				c.turnBack(screw, -made, "to where it began")
			}
		}
	}
	var joints []int
	for i := range c.m.bank.Cylinders {
		joints = append(joints, (max(cylinder, 1)-1+i)%c.m.bank.Cylinders+1)
	}
	c.start("An air leak? He starts it again, presses g, then l: water on the joints will tell.", func() {
		c.Watch(true)
		c.wetAll(joints, next)
	})
}

// wetAll wets joints one after another, each once the watch listens, until one leaks.
func (c *Care) wetAll(joints []int, next func()) {
	ends := func(say string) {
		c.Watch(false)
		c.do(say, sayS, nil)
		c.do("", 0, next)
	}
	if len(joints) == 0 {
		ends("No joint leaks.")
		return
	}
	c.await(learnS, func() bool { return c.phase() == airleak.Watching }, func(listens bool) {
		if !listens {
			ends("No leak could be listened for: the cylinders' air did not hold still.")
			return
		}
		goOn := func() { c.wetAll(joints[1:], next) }
		c.wet(joints[0], "He wets the joint of cylinder %d: water only, a little.", func(less bool) {
			if less {
				c.again(joints[0], goOn)
				return
			}
			goOn()
		})
	})
}

// wet wets a joint, and tells whether the air of its cylinder fell.
func (c *Care) wet(joint int, say string, then func(less bool)) {
	c.do(fmt.Sprintf(say, joint), 0, func() { c.m.engine.Wet(joint, 1, view.WetSeconds) })
	less := func() bool { return c.phase() == airleak.Less && c.Tune().Air.Cylinder == joint }
	c.await(view.WetSeconds+1, less, func(so bool) {
		c.do("", wordS, nil)
		c.do("", 0, func() { then(so) })
	})
}

// again wets a joint a second time, to be sure, and mends it.
func (c *Care) again(joint int, next func()) {
	c.await(dryS, func() bool { return c.phase() == airleak.Watching }, func(bool) {
		c.wet(joint, "Less air there. Dry now: he wets the joint of cylinder %d again to be sure.", func(less bool) {
			w, bad := c.wrong(engine.Leaks, joint)
			if !less || !bad {
				next()
				return
			}
			c.do("", 0, func() { c.Watch(false) })
			c.do(fmt.Sprintf("The same again: it leaks at cylinder %d. Engine off.", joint), sayS, c.m.engine.Stop)
			c.mend(w, levelsOn, nil)
		})
	})
}

// phase is what the watch for air leaks is at.
func (c *Care) phase() airleak.Phase {
	if t := c.Tune(); t != nil && t.Air != nil {
		return t.Air.Phase
	}
	return airleak.Learning
}

// lookDoubts looks at the next cylinder that is in doubt.
func (c *Care) lookDoubts() {
	if len(c.doubts) == 0 || c.sick {
		c.finish()
		return
	}
	cylinder := c.doubts[0]
	c.doubts = c.doubts[1:]
	c.do(fmt.Sprintf("He feels hoses, boot and port plug of cylinder %d, measures its valve clearance with the "+
		"engine cold, then, warm again, its compression.", cylinder), sayS, nil)
	c.do("", 0, func() {
		if w, bad := c.wrong(engine.Leaks, cylinder); bad {
			c.mend(w, levelsOn, nil)
			return
		}
		if !c.worn(cylinder) {
			c.unfound = cylinder
			c.do(fmt.Sprintf("Nothing is found wrong with cylinder %d.", cylinder), sayS, nil)
		}
		c.do("", 0, c.lookDoubts)
	})
}

// mend looks at hoses, boots, arms and plug caps, where the engine stands, puts right what is wrong, and says what came
// of it.
func (p *Bike) mend() view.Event {
	if p.Engine.Truth().Running {
		return view.Told{Text: "Engine off first (e), then x: nothing is looked at beside an engine that runs."}
	}
	var said []string
	if p.Engine.MendHoses() {
		said = append(said, "Sensors' hoses were swapped: each is on its own port now.")
	}
	for _, w := range p.Engine.Wrongs() {
		if p.Engine.Mend(w) || w.Kind == engine.Worn {
			said = append(said, mended(&p.Bank, w, byHand))
		}
	}
	for _, text := range said {
		p.Finds(text)
	}
	if said == nil {
		said = []string{"Hoses, boots, arms and plug caps are in order."}
	}
	return view.Told{Text: strings.Join(said, " ") + " Start it with e, after any cooling.", Role: view.Strong}
}
