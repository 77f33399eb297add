package mixture

import (
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/engine"
)

// pilotHand turns pilot screws as told: it looks up once a second, takes one to two
// seconds to begin, and sets a screw to within a thirty-second of a turn of what it
// counted.
type pilotHand struct {
	follower
	rng   *rand.Rand
	start [4]float64 // turns out
	told  [4]float64
	due   float64
	cyl   int
	to    float64
	turns int
}

func newPilotHand(e *engine.Engine, seed uint64) *pilotHand {
	h := &pilotHand{rng: rand.New(rand.NewPCG(seed, 5))}
	for i, c := range e.Truth().Cylinders {
		h.start[i] = c.PilotOut
	}
	return h
}

func (h *pilotHand) act(e *engine.Engine, st *TrimState) {
	now := e.Truth().TimeS
	if h.cyl > 0 && now >= h.due {
		e.TurnPilot(h.cyl, e.Truth().Cylinders[h.cyl-1].PilotOut-h.to)
		h.cyl = 0
		h.turns++
	}
	if st.Advice.Part == ThrottleStop {
		h.follow(e, st.Advice)
		return
	}
	for i := range st.Cylinders {
		if p := &st.Pilots[i]; p.Moved != h.told[i] {
			h.told[i] = p.Moved
			h.cyl, h.due = i+1, now+0.25+1+h.rng.Float64()
			h.to = h.start[i] + p.Moved + (2*h.rng.Float64()-1)/32
		}
	}
}

// trimmed runs a trim on a practice engine to its end.
func trimmed(t testing.TB, cfg engine.Config, tc TrimConfig, longest float64) (*engine.Engine, TrimState, *pilotHand) {
	idle := NewIdleSpeed(IdleConfig{})
	var trim *Trim
	var st TrimState
	b := newBench(t, cfg, nil)
	b.push = func(s *cycle.Span) {
		is := idle.Push(s)
		if trim != nil {
			st = trim.Push(s, &is, math.NaN())
		}
	}
	b.run(2, nil)
	tc.Cylinders = cfg.Bank.Cylinders
	trim = NewTrim(tc, idle)
	h := newPilotHand(b.engine, cfg.Seed)
	b.run(longest, func() bool {
		h.act(b.engine, &st)
		return st.Step == StepAllSet
	})
	return b.engine, st, h
}

func TestScratchTrim(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("N"))
	if n == 0 {
		n = 3
	}
	good, all, fours, idle, turns, hold, zs := 0, 0, 0, 0.0, 0, 0, 0.0
	var byCyl [4]float64
	watch, _ := strconv.ParseFloat(os.Getenv("WATCH"), 64)
	sure, _ := strconv.ParseFloat(os.Getenv("SURE"), 64)
	one, _ := strconv.Atoi(os.Getenv("ONE"))
	for seed := range uint64(n) {
		if one > 0 && int(seed) != one {
			continue
		}
		cfg := engine.Config{Bank: bank.Default(4), Seed: seed + 100, Running: true, PilotsOff: 0.5, Uneven: 0.7}
		e, st, h := trimmed(t, cfg, TrimConfig{Screws: FuelScrews, WatchS: watch, Sure: sure}, 900)
		ok := true
		for i, c := range e.Truth().Cylinders {
			p := st.Pilots[i]
			off := c.PilotOut - c.PilotBest
			all++
			if math.Abs(off) <= 0.125 {
				good++
			} else {
				ok = false
			}
			if one > 0 {
				t.Logf("%+v", p)
			}
			z := (p.Best - (c.PilotBest - h.start[i])) / p.Uncertainty * 1.96
			zs += z * z
			if math.Abs(off) > 0.125 {
				t.Logf("seed %d cyl %d %s moved %+.3f want %+.3f off %+.3f z %.2f ± %.3f visits %d", seed, i+1, p.Found, p.Moved, c.PilotBest-h.start[i], off, z, p.Uncertainty, p.Visits)
			}
			byCyl[i] += z * z
			est := p.Best - (c.PilotBest - h.start[i])
			if math.Abs(est) <= p.Uncertainty {
				hold++
			}
			if os.Getenv("V") != "" {
				t.Logf("seed %d cyl %d %s moved %+.3f want %+.3f off %+.3f est off %+.3f ± %.3f visits %d %.0f s gain %.0f", seed, i+1, p.Found, p.Moved, c.PilotBest-h.start[i], off, est, p.Uncertainty, p.Visits, p.Seconds, p.GainRPM)
			}
		}
		if ok {
			fours++
		}
		idle += st.IdlingS
		turns += h.turns
		if os.Getenv("V") != "" {
			t.Logf("seed %d step %s idling %.0f turns %d stop turns %d", seed, st.Step, st.IdlingS, h.turns, h.follower.turns)
		}
	}
	t.Logf("good %d of %d, fours %d of %d, idle %.0f turns %.1f, intervals hold %d rms z %.2f by cyl %.1f", good, all, fours, n, idle/float64(n), float64(turns)/float64(n), hold, math.Sqrt(zs/float64(all)), byCyl)
}
