package practice

import (
	"strings"
	"testing"
	"unicode/utf8"

	"evendraw/internal/engine"
)

// A typed line that names a cylinder which is not there says so, and one that means nothing says what can be typed.
func TestTypedLines(t *testing.T) {
	t.Parallel()
	o := Options{Name: Leaking}
	cfg := o.EngineConfig()
	p := &Bike{Engine: engine.New(cfg), Bank: cfg.Bank, pilots: make([]float64, cfg.Bank.Cylinders)}
	for line, want := range map[string]string{"wet 2": "", "2 out 1/8": "", "wet 9": "no cylinder 9",
		"wet 0": "no cylinder 0", "9 out 1/8": "no cylinder 9", "foo": LeakHands, "wet": LeakHands,
		"2 up 1/8": LeakHands} {
		t.Run(line, func(t *testing.T) {
			err := p.DoLine(line, LeakHands)
			if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
				t.Errorf("%v, want %q", err, want)
			}
		})
	}
}

// The stories fit where they are shown, a manual page of 80 columns, and none is lost.
func TestStoriesFit(t *testing.T) {
	t.Parallel()
	text := Stories()
	for line := range strings.Lines(text) {
		if n := utf8.RuneCountInString(strings.TrimSuffix(line, "\n")); n > nameColumn+storyColumns {
			t.Errorf("%d columns: %s", n, line)
		}
	}
	words := strings.Join(strings.Fields(text), " ")
	for _, s := range engine.Scenarios() {
		if !strings.Contains(words, s.Name+" "+s.Story) {
			t.Errorf("%s: %q is not in\n%s", s.Name, s.Story, text)
		}
	}
}

// The engine of a practice in lines is switched off, and on again, as the words of the job ask for.
func TestTypedKey(t *testing.T) {
	t.Parallel()
	o := Options{Name: Leaking}
	cfg := o.EngineConfig()
	cfg.Running = true
	p := &Bike{Engine: engine.New(cfg), Bank: cfg.Bank, pilots: make([]float64, cfg.Bank.Cylinders)}
	for _, on := range []bool{false, false, true, true} {
		line := map[bool]string{true: "engine on", false: "engine off"}[on]
		if err := p.DoLine(line, TrimHands); err != nil || p.Engine.Truth().Running != on {
			t.Errorf("%s: %v, runs %v", line, err, p.Engine.Truth().Running)
		}
	}
	for _, hands := range []string{TrimHands, RaisedHands, LeakHands} {
		if !strings.Contains(hands, "engine off") {
			t.Errorf("not said: %s", hands)
		}
	}
}
