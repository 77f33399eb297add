package trial

import (
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/practice"
)

// A wary hand, which makes amounts by eighths with pauses, is told hardly more than what is needed, behind a leak too.
func TestAWaryHandIsToldWhatIsNeeded(t *testing.T) {
	t.Parallel()
	weighed, large := 0, 0
	for seed := range effort.Of(uint64(1), 4) {
		for _, s := range stories() {
			if s.name != "perished-hose" && s.name != "leaking-boot" && s.name != "unknown-four" {
				continue
			}
			if !effort.Whole() && s.name != "perished-hose" {
				continue
			}
			k := bike{config: s.bike, seed: s.bike.Seed + seed, habits: &practice.Stepwise}
			k.config.Seed, k.config.NoSensorErrors = s.bike.Seed+seed, true
			o := byAdvice(k, nil)
			weighed, large = weighed+o.Told.Weighed, large+o.Told.Large
			t.Logf("%s, seed %d: %d of %d amounts large, done %v at %.2f kPa in %.0f s", s.name, k.seed, o.Told.Large,
				o.Told.Weighed, o.Done, float64(o.Spread), o.Idle)
		}
	}
	if t.Logf("%d of %d", large, weighed); weighed == 0 || large > 1+weighed/10 {
		t.Errorf("%d of %d amounts are half as much again as was needed", large, weighed)
	}
}
