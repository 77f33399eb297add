package view

import (
	"slices"

	"evendraw/internal/advice"
	"evendraw/internal/keyhelp"
	"evendraw/internal/mixture"
	"evendraw/internal/suspects"
)

// HelpKey names the key that tells all others; its sign alone does where room is short.
const HelpKey = "? help"

const skipKey = "n skip"

// keyLine says what the keys do now, the most needed first.
func (v *View) keyLine() []string {
	switch {
	case v.Entry != nil:
		return []string{"Enter keeps it", "Esc throws it away"}
	case v.Page == PageSteps:
		return []string{"↑↓ Enter goes there", "Esc back"}
	case v.Page == PageRig:
		return []string{"Esc back", "↑↓ more", HelpKey, "q quit"}
	case v.Page != PageStep:
		return []string{"Esc back", HelpKey, "q quit"}
	case v.Flow.Off:
		return []string{"1-4 reference", "0 mean", "k unit", "a advice alone", "w waves", "r board", HelpKey, "q quit"}
	}
	var keys []string
	switch v.Flow.At {
	case StepBike:
		keys = []string{"↑↓ Enter take it", skipKey}
	case StepChecks:
		keys = []string{"Enter seen", "- not on this bike", "! leave undone", "= all seen", skipKey}
	case StepZero:
		keys = v.passKeys("Enter zero now", "z zero anew", v.snap().Zero.Running, v.snap().Zero.Zeroed)
	case StepMatch:
		keys = v.passKeys("Enter compare", "y compare anew", v.snap().Match.Running, v.matched())
	case StepPilots:
		keys = v.pilotsKeys()
	case StepKeep:
		keys = []string{"s save", "m remark", "i A4 page"}
	default:
		keys = v.answers()
	}
	back := "p back"
	if v.maybeWarm() {
		back = "p not warm yet"
	}
	if v.mustStop() { // no page opens, see pageKey
		keys = append(keys, "q quit", back)
	} else {
		keys = append(keys, "o all steps", HelpKey, "q quit", back)
	}
	if v.Flow.At == StepLevel && v.air() == nil && v.turning() && !v.mustStop() && !v.faultShown() {
		keys = append(keys, "l find an air leak")
	}
	if v.Practice != nil && v.Flow.At >= StepZero {
		keys = v.withPractice(keys)
	}
	if v.Phone != nil && !v.mustStop() {
		keys = slices.Insert(keys, 1, "u phone")
	}
	return keys
}

// withPractice adds the keys of the practice engine, after what answers: the one that is asked for comes first.
func (v *View) withPractice(keys []string) []string {
	own := []string{"e engine", "↑↓ screw", "→ clockwise +1/8"}
	r := v.reading()
	switch {
	case v.mustStop():
		return append(own, keys...)
	case v.air() != nil:
		own = slices.Insert(own, 0, "j wet a joint")
	case v.order.Big != "" && !v.turning() || v.faultShown():
		own = slices.Insert(own, 1, "x mend")
	case v.Flow.At > StepRaised && v.raced():
		own = slices.Insert(own, 0, "v let go")
	case v.Flow.At == StepRaised && v.turning():
		own = slices.Insert(own, 0, "v raised speed")
	case r != nil && r.Advice.Why == advice.WhyBlip && (v.Flow.At == StepLevel || v.Flow.At == StepBlip):
		own = slices.Insert(own, 0, "b blip")
	}
	if keys[0] == skipKey {
		return append(own, keys...)
	}
	return slices.Insert(keys, 1, own...)
}

// answers are the keys that answer what is told now.
func (v *View) answers() []string {
	switch {
	case v.nutAsked():
		return []string{"Enter nut tight", skipKey}
	case v.air() != nil:
		return []string{"l ends looking"}
	case v.Bare.Busy:
		return nil
	case v.Bare.Loses != "":
		return []string{"i write it", "n leave it"}
	case v.Bare.Port != "":
		return []string{"i put the program on", skipKey}
	case v.cooling() && !(v.Flow.At == StepRaised && v.enterEnds()): // whose result is told
		return []string{"f fan", skipKey}
	case v.goesPast():
		return []string{"g go on", skipKey}
	case v.Flow.At == StepLevel && (v.turning() && v.reading().Advice.Why == advice.WhyNoZero || v.zeroAsked()):
		return []string{"z zero", skipKey}
	case v.asksIdle():
		return []string{"Enter type it", skipKey}
	case v.asksNuts() && !v.inDoubt():
		return []string{"Enter nut tight", skipKey}
	case v.enterEnds():
		return []string{"Enter done, next"}
	}
	return []string{skipKey}
}

// passKeys say what can be done about a pass.
func (v *View) passKeys(first, anew string, running, done bool) []string {
	switch {
	case running || v.reading() == nil:
		return []string{skipKey}
	case done:
		return []string{"Enter next", anew}
	}
	return []string{first, skipKey}
}

// pilotsKeys say what can be done at the pilot screws.
func (v *View) pilotsKeys() []string {
	switch {
	case v.cooling():
		return []string{"f fan", skipKey}
	case v.inTrial() != nil && v.Snap.Tune.Trim == nil:
		return []string{"Enter goes on", "x turned back", skipKey}
	case v.snap().Tune.Trim == nil && !v.pilotFits():
		return []string{skipKey}
	case v.snap().Tune.Trim == nil:
		return []string{"Enter begin", skipKey}
	case v.Snap.Tune.Trim.Step == mixture.StepAllSet:
		return []string{"Enter next", "y trim again"}
	case v.turnsPilot():
		return []string{"Enter turned", "c other amount", skipKey}
	}
	return []string{skipKey}
}

// helpPage is the page behind the question mark, a paragraph each, from the one that was scrolled to.
func (v *View) helpPage() []string {
	lines := keyhelp.Page(v.Recording)
	if v.Flow.At == StepWarm && !v.Flow.Off {
		lines = slices.Concat(suspects.Start, lines)
	}
	if v.Flow.At == StepChecks && !v.Flow.Off {
		lines = append([]string{"-  !  =   not on this bike; left undone on purpose; all seen"}, lines...)
	}
	if v.Practice != nil {
		lines = slices.Concat(keyhelp.Practice, lines)
	}
	return lines[min(max(v.Cursor, 0), len(lines)-1):]
}
