package mixture

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/heat"
)

// pilotHand turns pilot screws as told: it looks up twice a second, takes one to two
// seconds to begin, and sets a screw to within a thirty-second of a turn of what it
// counted. It turns the throttle stop as well.
type pilotHand struct {
	follower
	rng   *rand.Rand
	start [bank.MaxCylinders]float64 // turns out
	told  [bank.MaxCylinders]float64
	due   float64
	press float64 // when Enter is pressed; 0 is not
	cyl   int
	to    float64
	moves int
	most  float64
}

func newPilotHand(e *engine.Engine, seed uint64) *pilotHand {
	h := &pilotHand{rng: rand.New(rand.NewPCG(seed, 5))}
	for i, c := range e.Truth().Cylinders {
		h.start[i] = c.PilotOut
	}
	return h
}

func (h *pilotHand) act(e *engine.Engine, st *TrimState, trim *Trim) {
	now := e.Truth().TimeS
	if h.cyl > 0 && now >= h.due {
		by := e.Truth().Cylinders[h.cyl-1].PilotOut - h.to
		e.TurnPilot(h.cyl, by)
		h.cyl = 0
		h.moves++
		h.most = max(h.most, math.Abs(by))
		h.press = now + math.Abs(by)/handTurnsPerS + 0.5
	}
	if h.press > 0 && now >= h.press {
		if h.press = 0; !trim.Made() { // too soon: pressed again
			h.press = now + 1
		}
	}
	if st.Advice.Part == advice.ThrottleStop {
		h.follow(e, st.Advice)
		return
	}
	if i := st.Advice.Cylinder - 1; st.Advice.ToTurn(advice.PilotScrew) && st.Goal != h.told[i] {
		h.told[i] = st.Goal
		h.cyl, h.due = i+1, now+0.25+1+h.rng.Float64()
		h.to = h.start[i] + st.Goal + (2*h.rng.Float64()-1)/32
	}
}

// trimRun is a trim on a practice engine.
type trimRun struct {
	*bench
	state TrimState
	hand  *pilotHand
	trim  *Trim
}

// trimmed runs a trim to its end, or for so long; probed is the lambda pushed, nil for
// none.
func trimmed(t testing.TB, cfg engine.Config, tc TrimConfig, longest float64,
	probed func(e *engine.Engine) float64) *trimRun {
	t.Helper()
	cfg.Running = true
	r := &trimRun{}
	idle := NewIdleSpeed(IdleConfig{})
	r.bench = newBench(t, cfg, func(s *cycle.Span) {
		st := idle.Push(s)
		lambda := math.NaN()
		if probed != nil {
			lambda = probed(r.engine)
		}
		if r.trim != nil {
			r.state = r.trim.Push(s, &st, lambda, &heat.State{Limit: 1e6})
		}
	})
	r.run(2, nil)
	tc.Cylinders = cfg.Bank.Cylinders
	r.hand = newPilotHand(r.engine, cfg.Seed)
	if tc.TurnsOut == nil {
		for _, out := range r.hand.start[:tc.Cylinders] {
			tc.TurnsOut = append(tc.TurnsOut, math.Round(8*out)/8)
		}
	}
	r.trim = NewTrim(tc, idle)
	done := r.run(longest, func() bool {
		r.hand.act(r.engine, &r.state, r.trim)
		return r.state.Step == StepAllSet
	})
	if !done {
		t.Errorf("not done after %.0f s: %+v", longest, r.state.Advice)
	}
	return r
}

// off is how far a cylinder's screw ended from its best, in turns.
func (r *trimRun) off(cylinder int) float64 {
	c := r.engine.Truth().Cylinders[cylinder-1]
	return c.PilotOut - c.PilotBest
}

// trimTol is how near a peak must be found, in turns: the trial (package trial) counts how
// often it is.
const trimTol = 0.14

// Whole banks, fuel screws and air screws: every screw at its peak, its turns counted.
func TestTrimFindsThePeaks(t *testing.T) {
	for _, c := range []struct {
		name   string
		cfg    engine.Config
		screws Screws
		whole  bool // in full runs alone
	}{
		{"four", engine.Config{Bank: bank.Default(4), Seed: 100}, FuelScrews, true},
		{"twin", engine.Config{Bank: bank.Default(2), Seed: 4, AirScrews: true}, AirScrews, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			if c.whole {
				effort.ForWhole(t, "a four's screws")
			}
			c.cfg.PilotsOff, c.cfg.Uneven = 0.5, 0.7
			r := trimmed(t, c.cfg, TrimConfig{Screws: c.screws}, 700, nil)
			for i := range c.cfg.Bank.Cylinders {
				p := &r.state.Pilots[i]
				t.Logf("cylinder %d: %s, %.3f turns out, off %+.3f, ± %.3f, %d settings, %.0f s",
					i+1, p.Found, p.Out, r.off(i+1), p.Uncertainty, p.Visits, p.Seconds)
				if math.Abs(r.off(i+1)) > trimTol || p.Found != AtPeak && p.Found != Unsure {
					t.Errorf("cylinder %d: %s, %+.3f turns off", i+1, p.Found, r.off(i+1))
				}
				if math.Abs(p.Out-math.Round(16*p.Out)/16) > 1e-9 || p.Out != p.StartOut+p.Moved {
					t.Errorf("cylinder %d: %v turns out from %v, moved %v", i+1, p.Out, p.StartOut, p.Moved)
				}
			}
			if r.state.TooFarApart() || !(r.state.IdlingS > 60) {
				t.Errorf("apart %v, idling %v", r.state.Apart, r.state.IdlingS)
			}
		})
	}
}

// A warming engine's idle rises all the while: the peak is found all the same.
func TestTrimWhileTheIdleDrifts(t *testing.T) {
	t.Parallel()
	effort.ForWhole(t, "a four's screw while it warms") // plainly, TestTrimOfAnyLaw's idles drift
	r := trimmed(t, engine.Config{Bank: bank.Default(4), Seed: 7, PilotsOff: 0.4, Uneven: 0.7, Cold: true},
		TrimConfig{Only: []int{2}}, 400, nil)
	p := &r.state.Pilots[1]
	told := p.Best - (p.Moved - r.off(2))
	t.Logf("off %+.3f, %s, told %+.3f ± %.2f off, %d settings", r.off(2), p.Found, told, p.Uncertainty, p.Visits)
	off := math.Abs(r.off(2))
	set := off <= trimTol || p.Found == ToSet || p.Found != AtPeak && off <= p.Uncertainty+setStep
	if math.Abs(told) > p.Uncertainty || !set {
		t.Errorf("%+.3f turns off", r.off(2))
	}
	if r.state.Pilots[0].Found != Pending {
		t.Errorf("cylinder 1 was not asked for: %s", r.state.Pilots[0].Found)
	}
}

// A half blocked jet wants nearly all that there is: the screw is told to the end of its travel, or near it and not as
// surely best, as the curve is none from so far on the lean side.
func TestTrimOfABlockedJet(t *testing.T) {
	t.Parallel()
	effort.ForWhole(t, "a four that is trimmed to the end of the travel") // a twin would not idle
	jet := []engine.Defect{{JetBlocked: 0.45}}
	r := trimmed(t, engine.Config{Bank: bank.Default(4), Seed: 3, Uneven: 0.7, Defects: jet},
		TrimConfig{Screws: FuelScrews, Only: []int{1}}, 400, nil)
	p := r.state.Pilots[0]
	t.Logf("%s, moved %+.3f, best %.2f ± %.2f, %d settings", p.Found, p.Moved, p.Best, p.Uncertainty, p.Visits)
	if p.Found != AtEnd && p.Found != Unsure || p.Out < mostOut-0.25 {
		t.Errorf("%s at %v turns out", p.Found, p.Out)
	}
}

// A cylinder that does not fire does not answer: no speed bears out a turn out of its screw, which is told back no
// further than it surely may be.
func TestTrimOfADeadCylinder(t *testing.T) {
	t.Parallel()
	dead := []engine.Defect{1: {Misfire: 1}}
	r := trimmed(t, engine.Config{Bank: bank.Default(4), Seed: 5, Uneven: 0.7, Defects: dead},
		TrimConfig{Only: []int{2}}, 500, nil)
	p := r.state.Pilots[1]
	t.Logf("%s, moved %+.3f, %d settings", p.Found, p.Moved, p.Visits)
	if p.Found != Silent || p.Moved != 0 && p.Doubt < p.Moved {
		t.Errorf("%s, moved %v", p.Found, p.Moved)
	}
}

// With moves of an eighth at most each turn is an eighth, and the peak is the same.
func TestTrimInSmallSteps(t *testing.T) {
	t.Parallel()
	of := effort.Of(2, 3) // the cylinder
	r := trimmed(t, engine.Config{Bank: bank.Default(cylinders()), Seed: 11, PilotsOff: 0.3, Uneven: 0.7},
		TrimConfig{MostTurns: 0.125, Only: []int{of}}, 900, nil)
	p := &r.state.Pilots[of-1]
	t.Logf("off %+.3f in %d moves, the largest %.3f, %.0f s", r.off(of), r.hand.moves, r.hand.most, p.Seconds)
	if math.Abs(r.off(of)) > trimTol || r.hand.most > 0.125+3.0/32 {
		t.Errorf("%+.3f turns off, largest move %.3f", r.off(of), r.hand.most)
	}
}

// The owner's lambda, with the probe in the cylinder's own exhaust and in that of all.
// The probe's delay and lag are the practice engine's.
func TestTrimToLambda(t *testing.T) {
	const target = 0.97
	probe := func(of int) func(e *engine.Engine) float64 {
		l := math.NaN()
		return func(e *engine.Engine) float64 { // a lag of half a second
			now := 0.0
			cs := e.Truth().Cylinders
			for _, c := range cs {
				now += 1 / c.Lambda / float64(len(cs))
			}
			lambda := 1 / now
			if of > 0 {
				lambda = cs[of-1].Lambda
			}
			if math.IsNaN(l) {
				l = lambda
			}
			l += 0.2 * (lambda - l)
			return l
		}
	}
	own := trimmed(t, engine.Config{Bank: bank.Default(cylinders()), Seed: 21, PilotsOff: 0.4, Uneven: 0.7},
		TrimConfig{Screws: FuelScrews, Only: []int{2}, Target: target, LambdaOf: 2}, 300, probe(2))
	got := own.engine.Truth().Cylinders[1].Lambda
	p := &own.state.Pilots[1]
	t.Logf("own exhaust: %s, lambda %.3f, told %.3f, %.0f s", p.Found, got, p.Lambda, p.Seconds)
	if p.Found != AtTarget || math.Abs(got-target) > 0.03 { // an eighth is 0.035
		t.Errorf("own exhaust: %s at lambda %.3f", p.Found, got)
	}
	all := trimmed(t, engine.Config{Bank: bank.Default(2), Seed: 22, PilotsOff: 0.3, Uneven: 0.7},
		TrimConfig{Screws: FuelScrews, Target: target}, 500, probe(0))
	mix := 0.0
	for _, c := range all.engine.Truth().Cylinders {
		mix += 1 / c.Lambda / 2
	}
	t.Logf("exhaust of all: lambda %.3f; %s, %s", 1/mix, all.state.Pilots[0].Found, all.state.Pilots[1].Found)
	if math.Abs(1/mix-target) > 0.03 || all.state.Pilots[0].Found != AtTarget {
		t.Errorf("exhaust of all: lambda %.3f", 1/mix)
	}
}
