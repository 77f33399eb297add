package session_test

import (
	"cmp"
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/fakeboard"
	"evendraw/internal/hoses"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// summed runs a practice engine for some seconds and returns its summary, the readings' advice by time, and the
// true mean draws. act, if any, is called with each chunk.
func summed(c engine.Config, seconds float64, act func(e *engine.Engine, now float64), each func(r *balance.Reading)) (
	cylinders []session.CylinderSummary, order hoses.Order, draws [4]float64) {
	e := engine.New(c)
	cycles := 0.0
	e.OnCycle(func(cy engine.Cycle) {
		cycles++
		for i := range 4 {
			draws[i] += (float64(cy.Draw[i]) - draws[i]) / cycles
		}
	})
	ambient := cmp.Or(c.Ambient, engine.DefaultAmbient)
	sum := session.NewSummary(func() pressure.KPa { return ambient })
	chain := session.NewChain(session.Config{Bank: &c.Bank, Ambient: ambient, Zeroed: true},
		func(r *balance.Reading) {
			sum.Push(r)
			if each != nil {
				each(r)
			}
		})
	buf := make([]byte, 480)
	for now := 0.0; now < seconds; now = e.Truth().TimeS {
		if act != nil {
			act(e, now)
		}
		n, _ := e.Read(buf)
		chain.Feed(buf[:n])
	}
	sum.Finish()
	return sum.Cylinders(&c.Bank), sum.Hoses(&c.Bank), draws
}

// Means are of the cycles in which the channel was sound: a channel that dies half way, or whose hose is off
// for a while, has the draw that it had while it lived.
func TestMeansOfSoundCycles(t *testing.T) {
	for _, c := range []struct {
		name        string
		fault       engine.SensorFault
		from, until float64
	}{{"stands still", engine.SensorStuck, 10, 99}, {"hose off", engine.SensorHoseOff, 8, 13}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			e := engine.Config{Bank: bank.Default(4), Seed: 4, Running: true, NoSensorErrors: true}
			all, _, draws := summed(e, 20, func(e *engine.Engine, now float64) {
				fault := engine.SensorSound
				if now > c.from && now < c.until {
					fault = c.fault
				}
				e.FailSensor(2, fault)
			}, nil)
			t.Logf("draw %.3f from %d cycles, true %.3f; states %v", all[1].Draw, all[1].SoundCycles, draws[1],
				all[1].States)
			// The idle itself wanders by some tenths.
			if off := float64(all[1].Draw) - draws[1]; math.Abs(off) > 0.3 {
				t.Errorf("draw %.2f off", off)
			}
			if all[1].SoundCycles > all[0].SoundCycles*4/5 || all[1].SoundCycles < all[0].SoundCycles/4 {
				t.Errorf("from %d cycles, the others from %d", all[1].SoundCycles, all[0].SoundCycles)
			}
			if d := float64(all[1].Difference) - (draws[1] - draws[0]); math.Abs(d) > 0.1 {
				t.Errorf("difference %.3f off", d)
			}
		})
	}
}

// A channel that shows a third, or nine tenths, of its cylinder is told; a sound one, with a butterfly that stands
// wrong, is not.
func TestChannelsThatShowLess(t *testing.T) {
	for _, c := range []struct {
		name  string
		shows float64
		state cycle.State
		doubt advice.Why
	}{
		{"sound", 1, cycle.OK, ""},
		{"nine tenths", 0.9, cycle.OK, advice.WhyShowsLess},
		{"eight tenths", 0.8, cycle.OK, advice.WhyShowsLess}, // or restricted: its refill is like a jet's
		{"a third", 0.33, cycle.ShowsLess, ""},
		{"a fifth", 0.2, cycle.ShowsLess, ""},
	} {
		for seed := uint64(1); seed <= effort.Of[uint64](1, 2); seed++ {
			t.Run(c.name, func(t *testing.T) {
				t.Parallel()
				e := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, NoSensorErrors: true,
					Hoses: []engine.Hose{1: {Shows: c.shows}}}
				all, _, _ := summed(e, 12, nil, nil)
				t.Logf("%v, doubt %q", all[1].States, all[1].Doubt)
				for i, cyl := range all {
					state, doubt := cycle.OK, advice.Why("")
					if i == 1 {
						state, doubt = c.state, c.doubt
					}
					if cyl.States[cycle.Restricted] >= 0.7 && cyl.Doubt == "" {
						doubt = "" // no difference is told at all
					}
					if cyl.States[state]+cyl.States[cycle.Restricted] < 0.7 || cyl.Doubt != doubt {
						t.Errorf("cylinder %d: %v, doubt %q", i+1, cyl.States, cyl.Doubt)
					}
				}
			})
		}
	}
}

// Two hoses on one port are told as such, and no other pair.
func TestTwoHosesOnOnePort(t *testing.T) {
	t.Parallel()
	e := engine.Config{Bank: bank.Default(4), Seed: 3, Running: true, Hoses: []engine.Hose{2: {On: 2}}}
	var last advice.Advice
	_, order, _ := summed(e, 10, nil, func(r *balance.Reading) { last = r.Advice })
	t.Logf("on one port: %v; advice %s %s", order.OnePort, last.Kind, last.Why)
	if len(order.OnePort) != 1 || order.OnePort[0] != [2]int{2, 3} {
		t.Errorf("%+v", order)
	}
	if last.Kind != advice.Fault || last.Why != advice.WhyOnePort {
		t.Errorf("advice %+v", last)
	}
	_, order, _ = summed(engine.Config{Bank: bank.Default(4), Seed: 3, Running: true}, 6, nil, nil)
	if len(order.OnePort) != 0 {
		t.Errorf("%+v", order)
	}
}

// A cylinder that never fires is named within 7.5 s of a steady idle, calm or lumpy, whichever it is: so long it takes
// to see that its push scatters less than any other.
func TestDeadCylinderIsNamed(t *testing.T) {
	t.Parallel()
	slowest := 0.0
	for _, seed := range effort.Of([]uint64{3}, []uint64{1, 2, 3, 4, 5, 6, 7, 8}) {
		dead := int(seed) % 4 // 0 is cylinder 4
		defects := make([]engine.Defect, 4)
		defects[(dead+3)%4] = engine.Defect{Misfire: 1, UnburntK: 420}
		e := engine.Config{Bank: bank.Default(4), Seed: seed, Running: true, NoSensorErrors: true, Defects: defects,
			Lumpy: seed%3 == 0}
		steady, named := 0.0, 0.0
		summed(e, 20, nil, func(r *balance.Reading) {
			if r.Steady && steady == 0 {
				steady = r.Time
			}
			for i := range r.Cylinders {
				switch {
				case r.Cylinders[i].Doubt != advice.WhyMisfires:
				case i != (dead+3)%4:
					t.Errorf("seed %d: cylinder %d named", seed, i+1)
				case named == 0:
					named = r.Time
				}
			}
		})
		t.Logf("seed %d, cylinder %d: steady at %.1f s, named at %.1f", seed, (dead+3)%4+1, steady, named)
		if named == 0 || named > steady+7.5 {
			t.Errorf("seed %d: not within 7.5 s", seed)
		}
		slowest = max(slowest, named-steady)
	}
	t.Logf("%.1f s at most", slowest)
}

// The mean pressure of a channel is that of all that was recorded, the engine running or not.
func TestMeanOfTheWholeRecording(t *testing.T) {
	t.Parallel()
	four := bank.Default(4)
	e := engine.New(engine.Config{Bank: four, Seed: 2, NoSensorErrors: true})
	started := false
	rec := fakeboard.FromEngine(e, 12, func(now float64) {
		if now > 5 && !started {
			e.Start()
			started = true
		}
	})
	sum, _ := analysed(t, &rec, session.Config{Bank: &four, Ambient: engine.DefaultAmbient, Zeroed: true})
	for i, cyl := range sum.Cylinders(&four) {
		mean := 0.0
		for k := range rec.Frames {
			mean += ((float64(rec.Frames[k].Counts[i])+0.5)/1024 + 0.095) / 0.009 / float64(len(rec.Frames))
		}
		t.Logf("cylinder %d: mean %.2f kPa, of all samples %.2f; draw %.2f", i+1, cyl.Mean, mean, cyl.Draw)
		// What comes after the last cycle is in none.
		if off := math.Abs(float64(cyl.Mean) - mean); off > 0.3 || math.Abs(float64(cyl.Draw)-(101.3-mean)) < 2 {
			t.Errorf("cylinder %d: %.2f kPa off", i+1, off)
		}
	}
}
