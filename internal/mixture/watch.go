package mixture

import (
	"math"
	"slices"

	"evendraw/internal/advice"
)

// beginWatch begins to watch the speed at a setting.
func (t *Trim) beginWatch() {
	t.lasts = 0
	t.speeds.restart()
	seconds := t.watchS()
	if t.pilot().Visits >= 2 && !t.rough() {
		seconds *= lastWatchFactor
	}
	t.enter(StepWatch, seconds)
	t.tellHandsOff()
}

// watchS is how long a setting is watched: longer where the idle is rough.
func (t *Trim) watchS() float64 {
	return t.cfg.WatchS * min(max(t.roughness()*t.roughness(), 1), mostWatchFactor)
}

// roughness is how much rougher the idle is than a usual one, for what a pilot screw does to it.
func (t *Trim) roughness() float64 {
	const four = 4.0
	return t.noise.sd() / (usualNoise * t.baseRPM * four / float64(t.cfg.Cylinders))
}

// rough reports whether the idle is a lumpy one's.
func (t *Trim) rough() bool { return t.roughness() > mostRough }

func (t *Trim) tellHandsOff() {
	t.state.Advice = advice.New(advice.Hold, advice.PilotScrew, advice.WhyMeasuring)
	t.state.Advice.Cylinder = t.current()
}

// watching watches the speed at a setting until its time is over.
func (t *Trim) watching(over bool) {
	t.tellHandsOff()
	if t.pilot().Visits < mostVisits && !slices.Contains(t.curve.refused, t.turnedOut) && t.dies() {
		t.retreat(advice.WhyBack)
		return
	}
	if (over || t.sureAlready()) && !t.lateHand() {
		t.closeVisit()
		t.nextSetting()
	}
}

// handEnds is when the hand that was told to turn is surely at its end, be the turn confirmed before or not.
func (w *turn) handEnds() float64 { return w.shown + findS + math.Abs(w.to-w.from)/handTurnsPerS }

// lateHand reports whether the speed shows that a turn was confirmed before it was made: then the look goes on for as
// long as that took, and what came before the hand's end counts for nothing.
func (t *Trim) lateHand() bool {
	w, l := &t.turn, &t.look
	ends := w.handEnds()
	if w.late || ends <= t.stepSince || len(l.sum) == 0 {
		return false
	}
	n := len(l.sum) - 1
	first := int((ends - t.stepSince) / t.curve.period)
	if first < answerCycles || n-first < answerCycles {
		return false
	}
	before, after := l.part(0, first), l.part(first, n)
	if math.Abs(before.mean-after.mean) < lateSigmas*math.Hypot(before.sd, after.sd) {
		return false
	}
	w.late = true
	t.curve.forgetBetween(t.stepSince, ends)
	l.drop(first)
	t.stepSeconds += ends - t.stepSince
	return true
}

// lateSigmas is how many standard deviations the speed must change with the hand's end to show a turn that was
// confirmed before it was made. Chosen: by chance that is one look in a hundred, of a hand quicker than handEnds, and
// costs that time.
const lateSigmas = 2.5

// sureAlready reports whether the peak is sure before the setting's time is over; that is asked every two seconds.
func (t *Trim) sureAlready() bool {
	if t.pilot().Visits < 2 || t.cfg.Target > 0 || t.rough() ||
		t.now-t.stepSince < leastWatchS || t.now < t.askAt {
		return false
	}
	t.askAt = t.now + 2
	t.est = t.estimate()
	if !t.sure(sureTurns) {
		return false
	}
	t.bearOut()
	return t.inmost() <= t.est.peak+setStep
}
