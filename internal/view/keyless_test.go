package view

import (
	"strings"
	"testing"

	"evendraw/internal/advice"
)

// Plain lines take no keys: they say what is done instead.
func TestPlainLinesNameNoKey(t *testing.T) {
	t.Parallel()
	for kind, whys := range allAdvice {
		for _, why := range whys {
			v := running(reading(kind, why))
			v.Headless, v.Flow.Off = true, true
			v.Snap.Zero.Zeroed = why != advice.WhyNoZero
			line := v.Line()
			for _, key := range []string{"Enter", "ress g.", "ress g ", "hen z", "Hands full"} {
				if strings.Contains(strings.ReplaceAll(line, "ress g (on the screen alone, not here)", ""), key) {
					t.Errorf("%s %s: %q", kind, why, line)
				}
			}
		}
	}
	v := running(reading(advice.Recheck, advice.WhyNuts))
	if v.Headless = true; !strings.Contains(v.Line(), "lock nut. Then wait: it goes on by itself.") {
		t.Error(v.Line())
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
