package view

import (
	"testing"
	"time"

	"evendraw/internal/advice"
)

// Who reads another page goes on reading it when the job moves on by itself; a step that the
// user chooses shows itself.
func TestAPageStaysWhenTheJobMovesOn(t *testing.T) {
	t.Parallel()
	for name, page := range map[string]struct {
		key  string
		page Page
	}{
		"help":  {"?", PageHelp},
		"waves": {"w", PageWaves},
		"board": {"r", PageRig},
		"steps": {"o", PageSteps},
	} {
		t.Run(name, func(t *testing.T) {
			v := running(reading(advice.Done, advice.WhyLevel)).StartAt(StepLevel)
			v = press(v, page.key, KeyDown)
			cursor := v.Cursor
			for range 5 * 20 { // five seconds of a level bank
				at := v.Now.Add(50 * time.Millisecond)
				s := *running(reading(advice.Done, advice.WhyLevel)).Snap
				s.LastFrame = at
				v = Update(v, Tick{at, &s})
			}
			if v.Flow.At == StepLevel {
				t.Fatal("the job did not move on")
			}
			if v.Page != page.page || v.Cursor != cursor {
				t.Errorf("page %d, line %d; was reading page %d, line %d", v.Page, v.Cursor, page.page, cursor)
			}
			if v = press(v, page.key, "n"); v.Page != PageStep {
				t.Errorf("page %d after a step was chosen", v.Page)
			}
		})
	}
}
