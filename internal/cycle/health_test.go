package cycle

import (
	"math"
	"testing"

	"evendraw/internal/sensor"
)

// A channel's state is right within 2 s of its cause, and does not flicker.
func TestStates(t *testing.T) {
	const from, until, last = 5.0, 10.0, 15.0
	for _, c := range []struct {
		name  string
		want  State
		spoil func(x *sensor.Sample, noise float64)
	}{
		{"hose off", Ambient, func(x *sensor.Sample, noise float64) { x.Absolute[1] = 101.0 }},
		{"blocked", NoPulse, func(x *sensor.Sample, noise float64) { x.Absolute[1] = 76 }},
		{"rail low", RailLow, func(x *sensor.Sample, noise float64) { x.Absolute[1], x.Rails[1] = 11, sensor.RailLow }},
		{"rail high", RailHigh, func(x *sensor.Sample, noise float64) { x.Absolute[1], x.Rails[1] = 121, sensor.RailHigh }},
		{"weak", WeakPulse, func(x *sensor.Sample, noise float64) { x.Absolute[1] = 76 + (x.Absolute[1]-76)*0.15 }},
	} {
		for _, change := range []func(*synth){idle, lumpy, spikes} {
			s := newSynth(4)
			s.runner = nozzles
			change(s)
			spans, _ := trackWith(Config{}, s, last, func(x *sensor.Sample) bool {
				if x.Time >= from && x.Time < until {
					c.spoil(x, 0)
				}
				return true
			})
			changes, before := 0, State("")
			for i := range spans {
				x := &spans[i]
				if x.Start < 1 {
					continue
				}
				if !x.Cycle {
					t.Errorf("%s: no cycle at %.2f s", c.name, x.Start)
				}
				if x.State[1] != before {
					changes++
				}
				before = x.State[1]
				want := OK
				if x.Start > from && x.Start < until {
					want = c.want
				}
				if since := math.Mod(x.Start, 5); x.Start > from && since < 1.5 {
					continue
				}
				for i, s := range x.State[:4] {
					if i == 1 && s != want || i != 1 && s != OK {
						t.Errorf("%s: cylinder %d is %s at %.2f s", c.name, i+1, s, x.Start)
					}
				}
			}
			if changes != 3 {
				t.Errorf("%s: %d changes of state, want 3", c.name, changes)
			}
		}
	}
}

// Of misfires that leave a dip 40 % shallower, one in eight, and shallow dips of a
// lumpy idle. Reached: nearly all found, none invented, and
// with 5 % scatter; of other random numbers 93 % are found, 84 % with scatter. (Those
// at the ends of the recording make the counts differ by one or two.)
func TestMisfires(t *testing.T) {
	for _, c := range []struct {
		name            string
		change          func(*synth)
		found, invented float64 // share of misfires, at least; of dips, at most
	}{
		{"clean", idle, 0.97, 0.001},
		{"5 % scatter", func(s *synth) { s.scatter = 0.05 }, 0.95, 0.002},
		{"lumpy, none", func(s *synth) { lumpy(s); s.misfire = 0 }, 0, 0.004},
	} {
		for _, r := range runners {
			s := newSynth(4)
			s.runner = r.run
			s.misfire = 0.125
			if r.name == "refill" {
				s.misfire = 0.06
			}
			c.change(s)
			spans, _ := trackWith(Config{}, s, 40, nil)
			found, wrong, dips := 0, 0, 0
			used := map[int]bool{}
			for i := range spans {
				x := &spans[i]
				if x.Start < 4 {
					continue
				}
				for k := range 4 {
					dips++
					if !x.Misfire[k] {
						continue
					}
					hit := false
					for j, m := range s.missed {
						// The dip comes after the misfire's place in the cycle.
						if m.cylinder == k && m.time > x.Start-x.Period && m.time < x.End() && !used[j] {
							used[j], hit = true, true
							break
						}
					}
					if hit {
						found++
					} else {
						wrong++
					}
				}
			}
			all := 0
			for _, m := range s.missed {
				if m.time > 4.2 && m.time < 39.7 {
					all++
				}
			}
			t.Logf("%s %s: %d of %d found, %d invented in %d dips", c.name, r.name, found, all, wrong, dips)
			if float64(found) < c.found*float64(all) || float64(wrong) > c.invented*float64(dips) {
				t.Errorf("%s %s: %d of %d found, %d invented in %d dips", c.name, r.name, found, all, wrong, dips)
			}
		}
	}
}
