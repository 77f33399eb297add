package cycle_test

import (
	"fmt"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
)

// A cylinder that has never fired, the throttle stop screwed in until the others carry the idle: it is told in so many
// engines of six, in two thirds of the fours at least and all twins; none that fires is.
func TestDeadCylinderOfAStrainedEngine(t *testing.T) {
	t.Parallel()
	for row, c := range []struct {
		n     int
		rpm   float64 // that the stop would give, did all fire
		least int     // engines of six in which it is told
	}{{4, 1400, 4}, {2, 2300, 6}, {3, 1700, 1}, {4, 1700, 4}, {4, 2000, 3}, {3, 2000, 1}, {2, 2000, 6}} {
		t.Run(fmt.Sprint(c.n, " ", c.rpm), func(t *testing.T) {
			t.Parallel()
			effort.Some(t, row, 4)
			found, seeds := 0, effort.Of([]uint64{2}, []uint64{1, 2, 3, 4, 5, 6})
			for _, seed := range seeds {
				dead := int(seed) % c.n
				e := engine.Config{Bank: bank.Default(c.n), Seed: seed, Running: true, NoSensorErrors: true,
					IdleRPM: c.rpm, Lumpy: seed%2 == 0, Defects: make([]engine.Defect, c.n)}
				e.Defects[dead].Misfire = 1
				told, first := deadTold(t, e, effort.Of(20., 40))
				t.Logf("seed %d: cylinder %d; told %v, from %.1f s", seed, dead+1, told[:c.n], first)
				for i, cycles := range told[:c.n] {
					if i != dead && cycles > 1 {
						t.Errorf("seed %d: cylinder %d told in %d cycles", seed, i+1, cycles)
					}
				}
				if told[dead] >= 40 {
					found++
				}
			}
			if found < c.least*len(seeds)/6 {
				t.Errorf("told in %d of %d engines, want %d of 6", found, len(seeds), c.least)
			}
		})
	}
}

// Sound engines that draw little, as their idle is high or the air thin, have no cylinder told.
func TestLittleDrawIsNoDeadCylinder(t *testing.T) {
	t.Parallel()
	for _, seed := range effort.Of([]uint64{1, 2}, []uint64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}) {
		n := 2 + int(seed)%3
		e := engine.Config{Bank: bank.Default(n), Seed: seed, Running: true, NoSensorErrors: true, Lumpy: seed%2 == 0,
			IdleRPM: []float64{2000, 1400, 1050, 1700}[seed%4], Ambient: []pressure.KPa{101.3, 75, 85}[seed/4%3],
			Defects: make([]engine.Defect, n)}
		for i := range e.Defects { // torn boots, all of them
			e.Defects[i].LeakMM2 = 2
		}
		told, _ := deadTold(t, e, 40)
		t.Logf("seed %d: %v", seed, told[:n])
		for i, cycles := range told[:n] {
			if cycles > 1 {
				t.Errorf("seed %d: cylinder %d told in %d cycles", seed, i+1, cycles)
			}
		}
	}
}

// deadTold counts in how many cycles each cylinder is told not to burn, and when one is first.
func deadTold(t *testing.T, e engine.Config, seconds float64) (told [8]int, first float64) {
	r := record(t, e, seconds, nil)
	spans := r.followBy(cycle.Config{Channels: r.bank.Channels, Ambient: pressure.KPa(r.ambient)})
	draw, cycles, rpm := 0.0, 0.0, 0.0
	for i := range spans {
		s := &spans[i]
		for c := range s.N {
			if s.Cycle && s.Misfire[c] {
				if told[c]++; first == 0 {
					first = s.Start
				}
			}
		}
		if s.Cycle && s.Start > seconds/2 {
			cycles++
			rpm += 120 / s.Period
			for c := range s.N {
				draw += (r.ambient - float64(s.Mean[c])) / float64(s.N)
			}
		}
	}
	t.Logf("%.0f rpm, draw %.1f kPa at %.1f", rpm/cycles, draw/cycles, r.ambient)
	return told, first
}
