package cycle

import (
	"fmt"
	"math"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// A runner that is simulated by its gas law loses to its cylinder the volumes that the
// tracker's match works out, and none while the valve is shut: through a hose whose lag is
// known, and with strong and weak strokes. The simulation's volume per stroke is that of a
// sine squared: half the stroke's time.
func TestVolumeTaken(t *testing.T) {
	for _, lag := range []float64{0, 0.004} {
		t.Run(fmt.Sprint("lag ", lag), func(t *testing.T) {
			s := newSynth(1)
			s.runner, s.noise, s.count, s.lag[0] = nozzles, 0, 0, lag
			h := newHistory([]int{0}, 4096)
			tr := s.run(2, func(x *sensor.Sample) { h.push(x) })
			m := newIntake(1)
			m.ambient = s.ambient
			m.setRefill(0, s.area[0], lag, 0.1)
			const period = 120.0 / 1050
			stroke := 75 * 0.32 * period / 2
			for n := 5; n < 15; n++ {
				start := float64(n) * period
				if !m.computeVolumes(h, start+period/4, period) {
					t.Fatal("no volumes")
				}
				at := func(x float64) float64 {
					i, _ := h.find(start + x*period)
					return m.volume[0][i-m.from] / volumeUnit
				}
				shut, taken := at(0.07)-at(0.01), at(0.5)-at(0.07)
				if math.Abs(shut) > 0.005*stroke || math.Abs(taken/stroke-1) > 0.01 {
					t.Errorf("lag %v: %.4f volumes while shut, %.4f in the stroke, truth %.4f", lag, shut, taken,
						stroke)
				}
			}
			if tr.turns[len(tr.turns)-1] < 17 {
				t.Fatal("the engine stood")
			}
		})
	}
}

// Lags that differ by chance become one; those of unequal hoses stay.
func TestPoolLags(t *testing.T) {
	known := func(lags ...float64) []hose {
		var hoses []hose
		for _, lag := range lags {
			hoses = append(hoses, hose{ownLag: lag, good: lag > 0, refill: refill{looks: 100}})
		}
		poolLags(hoses)
		return hoses
	}
	for i, o := range known(0.0005, 0.0012, 0.0009, 0.0011) {
		if math.Abs(o.lag-0.00096) > 1e-5 {
			t.Errorf("hose %d of a sort has %.2f ms", i+1, 1e3*o.lag)
		}
	}
	unequal := []float64{0.002, 0.006, 0, 0.005}
	for i, o := range known(unequal...) {
		if math.Abs(o.lag-unequal[i]) > 0.0001 {
			t.Errorf("hose %d has %.2f ms, its refill showed %.2f", i+1, 1e3*o.lag, 1e3*unequal[i])
		}
	}
}

// An engine that stops dead, and hoses that are all pulled off at once, end the cycles within a
// second: what stands still has none.
func TestNothingMoves(t *testing.T) {
	const at = 8.0
	for n := 1; n <= 4; n++ {
		for _, stopped := range some(n, []bool{true, false}) {
			t.Run(fmt.Sprintf("%d cylinders, stopped dead %v", n, stopped), func(t *testing.T) {
				t.Parallel()
				s := newSynth(n)
				s.runner = nozzles
				s.rpm = func(t float64) float64 {
					if stopped && t > at {
						return 0
					}
					return 1050
				}
				tracker := NewTracker(Config{Channels: []int{0, 1, 2, 3}[:n], Ambient: 101.3})
				seen, last := 0, 0.0
				s.run(effort.Of(at+4, 2*at), func(x *sensor.Sample) {
					for i := range n {
						if !stopped && x.Time > at {
							x.Absolute[i] = pressure.KPa(s.ambient + s.noise*s.rng.NormFloat64())
						}
					}
					if span, ok := tracker.Push(x); ok && span.Cycle {
						seen++
						last = span.End()
					}
				})
				if seen < 50 || last > at+1 {
					t.Errorf("%d cycles, the last ends %.2f s after it", seen, last-at)
				}
			})
		}
	}
}

// matched is a four that is matched by its volumes, after some seconds, with the history.
func matched(t *testing.T) *Tracker {
	t.Helper()
	s := newSynth(4)
	s.runner = nozzles
	tracker := NewTracker(Config{Channels: []int{0, 1, 2, 3}, Ambient: 101.3})
	s.run(4, func(x *sensor.Sample) { tracker.Push(x) })
	if !tracker.follow.intake.usable(4) {
		t.Fatal("a clean four is not matched by its volumes")
	}
	return tracker
}

// Volumes that don't fit the usual ones, and boundaries that have moved far, are not taken, and
// the usual ones are forgotten; so are they with a new air pressure, and around another boundary.
func TestVolumesForgotten(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(tr *Tracker)
		ok   bool
	}{
		{"alike", func(*Tracker) {}, true},
		{"unlike", func(tr *Tracker) {
			for c := range 4 {
				for b := range tr.follow.intake.usual[c] {
					tr.follow.intake.usual[c][b] += 8 * math.Sin(8*math.Pi*float64(b)/bins)
				}
			}
		}, false},
		{"moved", func(tr *Tracker) { tr.follow.boundary -= 0.07 * tr.follow.period }, false},
		{"another air pressure", func(tr *Tracker) { tr.SetAmbient(95) }, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr := matched(t)
			c.do(tr)
			f := tr.follow
			_, ok := f.intake.boundary(f.fit, tr.history, f.boundary, f.period)
			if ok != c.ok || f.intake.usable(4) != c.ok {
				t.Errorf("taken %v, known %v, want %v", ok, f.intake.usable(4), c.ok)
			}
		})
	}
	tr := matched(t)
	tr.follow.begin(tr.history, tr.follow.period, tr.history.newest())
	if !tr.follow.active || tr.follow.intake.usable(4) {
		t.Error("what was learned around the old boundary is used around a new one")
	}
}
