package mixture

import "evendraw/internal/advice"

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
	if t.dies() && t.pilot().Visits < mostVisits {
		t.retreat(advice.WhyBack)
		return
	}
	if over || t.sureAlready() {
		t.closeVisit()
		t.nextSetting()
	}
}

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
