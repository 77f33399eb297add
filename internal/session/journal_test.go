package session

import (
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
)

// A turn stands in the journal once something was seen to move upon it: by the word to stop, and where the next
// screw was told before there was one.
func TestJournalSteps(t *testing.T) {
	t.Parallel()
	turn := func(screw int, why advice.Why) advice.Advice {
		return advice.Advice{Kind: advice.Turn, Part: advice.SyncScrew, Screw: screw, Why: why}
	}
	stop := advice.Advice{Kind: advice.Stop, Part: advice.SyncScrew, Screw: 1}
	wait := advice.Advice{Kind: advice.Wait}
	for name, c := range map[string]struct {
		told []advice.Advice
		want int
	}{
		"stop": {[]advice.Advice{turn(1, advice.WhyTry), stop, wait}, 1},
		"seen, no stop": {[]advice.Advice{turn(1, advice.WhyTry), turn(1, advice.WhyKeepOn),
			turn(2, advice.WhyTry)}, 1},
		"seen, then stop":  {[]advice.Advice{turn(1, advice.WhyTry), turn(1, advice.WhySlower), stop, wait}, 1},
		"nothing seen":     {[]advice.Advice{turn(1, advice.WhyTry), turn(2, advice.WhyTry), wait}, 0},
		"taken for done":   {[]advice.Advice{turn(1, advice.WhyTry), turn(1, advice.WhyKeepOn), wait}, 1},
		"seen on the next": {[]advice.Advice{turn(1, advice.WhyTry), turn(2, advice.WhyKeepOn), wait}, 1},
	} {
		var j Journal
		for _, a := range c.told {
			j.push(&balance.Reading{Advice: a})
		}
		if len(j.Steps) != c.want {
			t.Errorf("%s: %d steps, want %d", name, len(j.Steps), c.want)
		}
	}
}
