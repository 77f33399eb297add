package cycle_test

import (
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
)

// sensorBand is the error band of the practice engine's sensors.
const sensorBand pressure.KPa = 1.5

// Without a zero pass a sensor's zero may be off by its band, which bends what looks like a refill: no sound hose is
// taken for a kinked or split one, with a lumpy idle nor a calm one, and no misfire is made up. (Zeros taken for known:
// 5 of 20 engines, of which 24 would show none once in a thousand times.)
func TestUnknownZeros(t *testing.T) {
	seeds := []uint64{6, 15} // two of those
	if effort.Whole() {
		seeds = []uint64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 15}
	}
	for _, lumpy := range []bool{true, false} {
		marked := 0
		for _, seed := range seeds {
			odd := 0
			cfg := engine.Config{Bank: bank.Default(2 + int(seed)%3), Seed: seed, Lumpy: lumpy}
			r, spans := unzeroed(t, cfg, 30)
			if told, _, cycles := countMisfires(r, spans); told != [8]int{} {
				t.Errorf("seed %d, lumpy %v: %v misfires told in %d cycles", seed, lumpy, told, cycles)
			}
			for _, s := range spans {
				for c := range s.N {
					if s.Hose[c] == cycle.OddHose || s.NoOpening[c] == cycle.OddRefill {
						odd++
					}
				}
			}
			if odd > 0 {
				marked++
				t.Errorf("seed %d, lumpy %v: odd in %d cycles and cylinders", seed, lumpy, odd)
			}
		}
		t.Logf("lumpy %v: %d of %d sound engines have a hose that looks odd", lumpy, marked, len(seeds))
	}
}

// A split hose is found without a zero pass, too.
func TestSplitHoseWithUnknownZeros(t *testing.T) {
	for seed := range effort.Of[uint64](2, 12) {
		cfg := engine.Config{Bank: bank.Default(4), Seed: seed + 1, Lumpy: seed%2 > 0,
			Hoses: []engine.Hose{{}, {Shows: 0.5}}}
		found := -1.0
		_, spans := unzeroed(t, cfg, 10)
		for _, s := range spans {
			ill := s.State[1] != cycle.OK || s.Hose[1] != "" && s.Hose[1] != cycle.PlainHose
			if s.Cycle && ill && found < 0 {
				found = s.Start
			}
		}
		if found < 0 || found > 6 {
			t.Errorf("seed %d: a split hose is found after %.1f s", seed+1, found)
		}
		t.Logf("seed %d: after %.1f s", seed+1, found)
	}
}

// unzeroed returns a running engine whose sensors had no zero pass, and its spans.
func unzeroed(t *testing.T, cfg engine.Config, seconds float64) (*recording, []cycle.Span) {
	t.Helper()
	cfg.Running = true
	r := record(t, cfg, seconds, nil)
	return r, r.followBy(cycle.Config{Channels: r.bank.Channels, Ambient: pressure.KPa(r.ambient),
		ZeroBand: sensorBand})
}
