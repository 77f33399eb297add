package view

import (
	"fmt"

	"evendraw/internal/advice"
	"evendraw/internal/airleak"
	"evendraw/internal/suspects"
)

// wetNote says what to wet; it stands as long as something is to be wetted.
const wetNote = "Water only, a little: never fuel or cleaner. Not on exhaust, spark plugs, leads, coils; mind the fan."

// leakStandsS is for how long a leak that was heard is told in large words once the air is back. Chosen: eyes and hands
// are at the joint.
const leakStandsS = 10

// smallShare is up to which share of its air a cylinder that gets less the first time leaks perhaps. Chosen: a
// torn boot of the practice engine takes 23 %; some per cent may come of a stumble, or of a hand at the throttle.
const smallShare = 0.1

// perhaps stands before the word of a leak that was heard once, by a fall of that share.
func perhaps(share float64) string {
	if share < smallShare {
		return "perhaps "
	}
	return ""
}

// leak is one that looking for it has heard.
type leak struct {
	cylinder int  // 0 is none
	fresh    bool // it is still there, was so a moment ago, or was heard twice
	sure     bool // it was heard twice, or is large
	stood    bool // the engine has stood since
}

// leakHeard returns the leak that a watch has heard.
func leakHeard(s *airleak.State) leak {
	l := leak{cylinder: s.Last, fresh: s.Again || s.Ago < leakStandsS, sure: s.Again || s.LastShare >= smallShare}
	if s.Phase == airleak.Less {
		l = leak{cylinder: s.Cylinder, fresh: true, sure: s.Again || s.Share >= smallShare}
	}
	l.fresh = l.fresh && l.cylinder > 0
	return l
}

// leakTold are words of a leak.
func leakTold(cylinder int, say ...string) Words {
	return toRead(fmt.Sprintf("LEAK %d", cylinder), Bad, say...)
}

// AirWords say what the watch for air leaks has heard.
func AirWords(s *airleak.State) Words {
	switch s.Phase {
	case airleak.Learning:
		return toRead("WAIT", Dim, "Measuring how much air each cylinder gets. Hands off, steady idle, nothing wet "+
			"yet.", wetNote)
	case airleak.Moved:
		return toRead("HANDS OFF", Warn, "More than one cylinder's air changed, or one got more. Was a screw turned, "+
			"or the throttle? It learns anew.", wetNote)
	case airleak.Unknown:
		return toRead("WAIT", Dim, fmt.Sprintf("Cylinder %d: no leak can be found: %s.", s.Cylinder,
			suspects.NoOpenings[s.Why]), wetNote)
	case airleak.Less:
		if s.Again {
			return leakTold(s.Cylinder, fmt.Sprintf("The same again at cylinder %d: it leaks there. "+
				"Engine off, mend it.", s.Cylinder))
		}
		return leakTold(s.Cylinder, fmt.Sprintf("Cylinder %d: %.0f %% less air for %.0f s: %sit "+
			"leaks where you just put water.", s.Cylinder, 100*s.Share, s.Seconds, perhaps(s.Share)),
			"Let it dry: the air must come back. Then wet the same joint again to be sure.")
	}
	before := ""
	switch {
	case s.Last > 0 && s.Again: // until it is mended
		return leakTold(s.Last, fmt.Sprintf("Cylinder %d had less air twice: it leaks there. "+
			"Engine off, mend it.", s.Last))
	case s.Last > 0 && s.Ago < leakStandsS:
		return leakTold(s.Last, fmt.Sprintf("Cylinder %d had less air for %.0f s: %sit leaks where you put water.",
			s.Last, s.LastSeconds, perhaps(s.LastShare)), "Let it dry, then wet the same joint again to be sure.")
	case s.Last > 0:
		before = fmt.Sprintf("Cylinder %d had less air for %.0f s, %.0f s ago: a leak? ", s.Last, s.LastSeconds, s.Ago)
	}
	return toRead("WATER ONLY", Strong, "With water from a spray bottle wet one boot, port plug or small hose, "+
		"wait 3 s, then the next. Turn nothing.", before+wetNote)
}

// looksForLeak are the faults whose words tell to look for a leak while the engine runs.
var looksForLeak = map[advice.Why]bool{advice.WhyLean: true, advice.WhyLeakNext: true, advice.WhyDead: true,
	advice.WhyMisfires: true}

// watchAir begins to watch for an air leak, or ends it.
func (v *View) watchAir() {
	switch air := v.air(); {
	case v.Flow.At != StepLevel && !v.Flow.Off:
		v.note("l looks for an air leak in the step Level the bank (o goes there).", Plain)
		return
	case air == nil && !v.turning():
		v.note("Start the engine first: water shows a leak only while it idles.", Plain)
		return
	case air == nil && v.goesPast() && (v.leakFound() || !looksForLeak[v.reading().Advice.Why]):
		v.note("Press g first, then l.", Plain)
		return
	}
	v.want(Want{Kind: WatchAir})
}

// leakFound reports whether a leak was found that is not yet put aside.
func (v *View) leakFound() bool { return v.leak.cylinder > 0 && (v.Flow.Off || v.Flow.At == StepLevel) }

// leakExplains reports whether the leak that was found is what an advice sends to look for.
func (v *View) leakExplains(a *advice.Advice) bool {
	return v.leakFound() && v.leak.sure && v.leak.cylinder == a.Cylinder && looksForLeak[a.Why]
}

// leakWords stand once looking for a leak has ended with one found.
func (v *View) leakWords() Words {
	said := "Cylinder %d got less air where you put water: it leaks there. Engine off. Mend it before you level."
	switch {
	case v.leak.stood && v.turning():
		return toRead(fmt.Sprintf("LEAK %d", v.leak.cylinder), Warn, fmt.Sprintf("Cylinder %d had a leak where you "+
			"put water. Mended? Press g. Not yet? Engine off, mend it first.", v.leak.cylinder))
	case !v.leak.fresh:
		said = "Cylinder %d got less air some time ago: was that a leak? Engine off. Look there before you level."
	case !v.leak.sure:
		said = "Cylinder %d got less air where you put water: perhaps it leaks there. Engine off. Look before you " +
			"level."
	}
	return toRead(fmt.Sprintf("LEAK %d", v.leak.cylinder), Bad, fmt.Sprintf(said, v.leak.cylinder), goOn)
}

// air returns what the watch for air leaks says, nil without one.
func (v *View) air() *airleak.State { return v.snap().Tune.Air }

// WetSeconds is for how long a joint that is wetted stays so. Chosen.
const WetSeconds = 4

// wetNext wets the practice engine's next joint, or the one that is asked for once more.
func (v *View) wetNext(p *Practice) {
	switch air := v.air(); {
	case air == nil: // water at a leak would pass for a turn
		at := ""
		if v.Flow.At != StepLevel && !v.Flow.Off {
			at = " in the step " + StepLevel.Name() + " (o goes there)"
		}
		v.note("First l"+at+", which listens for a leak; then j wets a joint.", Plain)
		return
	case air.Phase == airleak.Learning:
		v.note("Too early: wet nothing before it says WATER ONLY.", Plain)
		return
	}
	p.Joint = p.Joint%max(v.snap().Bank.Cylinders, 1) + 1
	if air := v.air(); air != nil && air.Last > 0 && !air.Again && air.Ago < leakStandsS { // it is asked for again
		p.Joint = air.Last
	}
	v.want(Want{Kind: WetJoint, Cylinder: p.Joint})
	v.note(fmt.Sprintf("The joint of cylinder %d is wet for %d s.", p.Joint, WetSeconds), Plain)
}
