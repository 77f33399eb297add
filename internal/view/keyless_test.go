package view

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/heat"
	"evendraw/internal/session"
)

// namesKey finds a key that a text asks for.
var namesKey = regexp.MustCompile(`\bEnter\b|[Pp]ress [a-z]\b|[Tt]hen [a-z]\b|: [a-z]\.|\([a-z][,)]|; [a-z] finds|` +
	`\bq and\b`)

// keyStates are states of a run without steps, each by what is told there.
func keyStates() (states map[string]View) {
	states = map[string]View{}
	for kind, whys := range allAdvice {
		for _, why := range whys {
			for _, screw := range []string{"1-2", ""} {
				r := reading(kind, why)
				if r.Advice.ScrewName = screw; screw == "" && kind != advice.Fault {
					continue
				}
				v := running(r)
				v.Snap.Zero.Zeroed = why != advice.WhyNoZero
				states[fmt.Sprint(kind, why, screw)] = v
			}
		}
	}
	stood := reading(advice.Wait, advice.WhyNoCycle)
	stood.Span.Cycle = false
	for name, do := range map[string]func(v *View){
		"stood": func(*View) {}, "not zeroed": func(v *View) { v.Snap.Zero.Zeroed = false },
		"drift":      func(v *View) { v.Snap.Drift.Asks = true },
		"cooling":    func(v *View) { v.Snap.Heat = heat.State{Seconds: 200, Hot: true} },
		"fan":        func(v *View) { v.Snap.Heat = heat.State{Seconds: 200, Hot: true, Fan: true} },
		"practice":   func(v *View) { v.Snap.Heat.Seconds, v.Practice = 290, &Practice{} },
		"bare board": func(v *View) { v.Snap.Reading, v.Snap.Phase, v.Bare.Port = nil, session.Waiting, "port 3" },
		"full disk":  func(v *View) { v.NoRoom.Why = "disk full" },
	} {
		v := running(stood)
		do(&v)
		states[name] = v
	}
	return states
}

// Plain lines take no keys: they say what is done instead.
func TestPlainLinesNameNoKey(t *testing.T) {
	t.Parallel()
	for name, v := range keyStates() {
		v.Headless = true
		line := strings.ReplaceAll(v.Line(), "ress g (on the screen alone, not here)", "-")
		if key := namesKey.FindString(line); key != "" || strings.Contains(line, "Hands full") {
			t.Errorf("%s: %q in %q", name, key, line)
		}
	}
	v := running(reading(advice.Recheck, advice.WhyNuts))
	if v.Headless = true; !strings.Contains(v.Line(), "lock nut. Then wait: it goes on by itself.") {
		t.Error(v.Line())
	}
}

// Beside a recording no word asks for a deed that it refuses: nothing can be zeroed, started or cooled.
func TestARecordingAsksForNothingThatItRefuses(t *testing.T) {
	t.Parallel()
	for name, v := range keyStates() {
		if v.Bare.Port != "" || v.NoRoom.Why != "" || v.Practice != nil {
			continue
		}
		v.Recording = true
		p := v.Picture()
		text := p.Big + ": " + strings.Join(p.Say, " ") + " "
		for _, f := range p.Foot {
			text += f.Text
		}
		for _, key := range namesKey.FindAllString(text, -1) { // g puts a fault aside, l watches what was recorded
			if !slices.Contains([]string{"press g", "Press g", ": l.", "; l finds"}, key) {
				t.Errorf("%s: %q in %q", name, key, text)
			}
		}
		if p.Big == "ZERO FIRST" || p.Big == "START" || strings.Contains(text, "Not zeroed") ||
			strings.Contains(text, "Your place") {
			t.Errorf("%s: %q", name, text)
		}
	}
}

// Beside a recording nothing is zeroed, saved or changed, and the help names no key for it.
func TestARecordingTakesNoZero(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Done, advice.WhyLevel))
	v.Recording, v.Flow.Off = true, true
	for _, k := range []string{"z", "s", "m", "f", "d", "u", "i"} {
		if got := press(v, k); got.Wants != nil || got.Entry != nil || !strings.HasPrefix(got.Note, "A recording") {
			t.Errorf("%s: %+v, %q", k, got.Wants, got.Note)
		}
	}
	if got := Update(v, Tick{v.Now, v.Snap}); got.Wants != nil {
		t.Errorf("level: %+v", got.Wants)
	}
	open := press(v, "?")
	help := strings.Join(open.Picture().Help, "\n")
	if strings.Contains(help, "zero the") || strings.Contains(help, "Enter") || !strings.Contains(help, "1-4") {
		t.Error(help)
	}
}

// Enter leaves no screw half turned, and says that the nut is tight which has just been asked for: n leaves.
func TestEnterLeavesNoScrew(t *testing.T) {
	t.Parallel()
	nut := reading(advice.Recheck, advice.WhyNuts)
	turn := reading(advice.Turn, advice.WhyUnlevel)
	look := reading(advice.Recheck, advice.WhyBlip)
	v := running(look).StartAt(StepLevel)
	pass := func(r *balance.Reading, seconds int) {
		for range seconds * 20 {
			at := v.Now.Add(50 * time.Millisecond)
			s := *running(r).Snap
			s.LastFrame = at
			v = Update(v, Tick{at, &s})
		}
	}
	pass(nut, 5)
	pass(look, 1)
	if v := press(v, KeyEnter); v.Flow.At != StepLevel || len(v.Wants) != 1 || v.Wants[0].Kind != NutTight {
		t.Errorf("a second after the nut: %q, %+v", v.Flow.At.ID(), v.Wants)
	}
	pass(turn, 1)
	if v := press(v, KeyEnter); len(v.Wants) != 1 || v.Wants[0].Kind != NutTight {
		t.Errorf("once the next screw is told: %+v", v.Wants)
	}
	pass(turn, 8)
	if v := press(v, KeyEnter); v.Flow.At != StepLevel || !strings.Contains(v.Note, "n leaves") {
		t.Errorf("with a screw to turn: %q, %q", v.Flow.At.ID(), v.Note)
	}
	pass(look, 5)
	if at := press(v, KeyEnter).Flow.At; at == StepLevel {
		t.Error("later it stays too")
	}
}
