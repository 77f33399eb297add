package session

import (
	"fmt"
	"math"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/sensor"
)

// TestSpeedAfterBlips blips engines again and again: a search in the middle of a blip
// may take two cycles for one, and must be found out within some cycles. (Before
// that was looked for, 15 of 40 engines stayed at half of the speed for
// seconds after one of six blips; 12 and 33, a twin and a four, after one of the first three.)
func TestSpeedAfterBlips(t *testing.T) {
	t.Parallel()
	seconds := effort.Of(32.0, 70)
	for _, seed := range effort.Of([]uint64{12, 33}, []uint64{1, 3, 8, 12, 29, 33, 34}) {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) { speedAfterBlips(t, seed, seconds) })
	}
}

func speedAfterBlips(t *testing.T, seed uint64, seconds float64) {
	const mostWrong = 12                   // cycles in a run
	leastCycles := int(400 * seconds / 70) // half of what an idling engine makes
	b := bank.Default(4)
	if seed%4 == 0 {
		b = bank.Default(2)
		b.FiringAngles = []float64{0, 270}
	}
	e := engine.New(engine.Config{Bank: b, Seed: seed, Running: true, NoSensorErrors: true})
	run, longest, cycles := 0, 0, 0
	slow := 1e9 // slowest speed since the last cycle: a reading lags behind a falling one
	const ambient = engine.DefaultAmbient
	cfg := Config{Bank: &b, Setup: sensor.Setup{Ambient: ambient}, Zeroed: true, Ambient: ambient}
	chain := NewChain(cfg, func(r *balance.Reading) {
		slow = min(slow, e.Truth().RPM)
		cycles++
		if !math.IsNaN(r.RPM) && r.RPM < 0.7*slow {
			run++
		} else {
			run = 0
		}
		longest, slow = max(longest, run), e.Truth().RPM
	})
	buf := make([]byte, 512)
	for next := 8.0; e.Truth().TimeS < seconds; {
		k, err := e.Read(buf)
		if err != nil {
			t.Fatal(err)
		}
		if err := chain.Feed(buf[:k]); err != nil {
			t.Fatal(err)
		}
		if e.Truth().TimeS > next {
			e.Blip()
			next += 10
		}
	}
	t.Logf("%d cycles, at most %d in a run with too slow a speed", cycles, longest)
	if longest > mostWrong || cycles < leastCycles {
		t.Errorf("%d cycles in a run of %d with too slow a speed", longest, cycles)
	}
}
