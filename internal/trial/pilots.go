package trial

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/mixture"
	"evendraw/internal/practice"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
)

// The mixture stage's trial: a virtual mechanic trims the pilot screws of random fours
// by the advice.
const (
	// peakTurns is how near to its best a pilot screw must end, in turns.
	peakTurns = 1.0 / 8
	// pilotsOff is how far from their best the screws stand at the start at most:
	// what a maker's figure or a bench card leaves. Chosen.
	pilotsOff = 0.5
	// pilotUneven is how uneven the bank is: levelled.
	pilotUneven pressure.KPa = 0.5
	// longestTrim is when the mechanic gives up, s.
	longestTrim = 900.0
)

// PilotConfig says what the mixture stage's trial tries.
type PilotConfig struct {
	Bikes int
	Seed  uint64
	// Air takes air screws, else fuel screws.
	Air bool
	// Step, Reach, Most and Watch are the trim's, 0 its defaults.
	Step, Reach, Most, Watch float64
	// Lumpy takes lumpy engines. Silent has the hand confirm only when asked, Mute never, and Careless
	// make one turn of twenty by half.
	Lumpy, Silent, Mute, Careless bool
	Workers                       int
	Progress                      func(done, of int)
}

// PilotOutcome is how the trim of one bike ended.
type PilotOutcome struct {
	Done bool
	// Off is how far each screw ended from its true best, and Held whether the stated
	// interval holds the true best, by cylinder - 1.
	Off  []float64
	Held []bool
	// Ended is how each screw's trim ended, and Answers how many ended with an answer.
	Ended   []mixture.Found
	Answers int
	// Moves is how often a pilot screw, StopMoves the throttle stop, was turned; Turns
	// by how much in all; Idle for how many seconds the engine ran
	// since the trim began.
	Moves, StopMoves int
	Turns, Idle      float64
	// Far is how many turns led further than mixture.FreeTurns from where the screw stood, Unexplained
	// how many of them were told without a reason.
	Far, Unexplained int
}

// Found reports whether all screws ended at their peaks.
func (o *PilotOutcome) Found() bool {
	return o.Done && !slices.ContainsFunc(o.Off, func(off float64) bool { return !(math.Abs(off) <= peakTurns) })
}

// RunPilots tries all bikes, in their order. It ends early, with the context's error,
// when ctx does.
func RunPilots(ctx context.Context, cfg PilotConfig) ([]PilotOutcome, error) {
	out := make([]PilotOutcome, cfg.Bikes)
	err := spread(ctx, cfg.Bikes, cfg.Workers, cfg.Progress, func(n int) { out[n] = cfg.trim(n) })
	return out, err
}

// trim trims bike number n.
func (cfg *PilotConfig) trim(n int) PilotOutcome {
	rng := rand.New(rand.NewPCG(cfg.Seed, uint64(n)))
	four := bank.Default(4)
	k := bike{linkage: "paired four", seed: rng.Uint64(), config: engine.Config{Bank: four, Seed: rng.Uint64(),
		NoSensorErrors: true,
		Uneven:         pilotUneven, PilotsOff: pilotsOff, AirScrews: cfg.Air, Lumpy: cfg.Lumpy}}
	b := newBench(k)
	c := session.NewChain(session.Config{Bank: &four, Ambient: pressure.StandardAtmosphere(0)},
		func(*balance.Reading) {})
	b.feed = c.Feed
	b.run(settleBefore)
	if !c.StartZero() {
		return PilotOutcome{}
	}
	b.run(settleBefore + sensor.ZeroSeconds + 0.1)
	b.start()
	habits := practice.AtPilots
	habits.Presses = !cfg.Silent && !cfg.Mute
	if cfg.Careless {
		habits.TooLittle = 0.05
	}
	h := practice.NewPilotHand(b.engine, &habits, rng.Uint64())
	h.Enter = func() {
		if !cfg.Mute {
			c.TrimMade()
		}
	}
	b.moves = h.Pass
	tc := mixture.TrimConfig{Screws: mixture.FuelScrews, TurnsOut: h.Counted(), Step: cfg.Step, Reach: cfg.Reach,
		MostTurns: cfg.Most, WatchS: cfg.Watch}
	if cfg.Air {
		tc.Screws = mixture.AirScrews
	}
	if c.StartTrim(tc) != nil {
		return PilotOutcome{}
	}
	for b.now < b.started+longestTrim {
		b.run(b.now + habits.Glance)
		tune := c.Tune()
		if tune.Trim != nil && tune.Trim.Step == mixture.StepAllSet {
			break
		}
		for h.Look(b.now, &tune); h.Away(); {
			b.step()
		}
	}
	return pilotOutcome(b, h, c.Tune().Trim)
}

// pilotOutcome judges the screws.
func pilotOutcome(b *bench, h *practice.PilotHand, st *mixture.TrimState) PilotOutcome {
	o := PilotOutcome{Moves: h.Moves, StopMoves: h.StopMoves, Turns: h.Turns, Idle: math.NaN(), Far: h.Far,
		Unexplained: h.Unexplained}
	if st != nil {
		o.Idle = st.IdlingS
	}
	o.Done = st != nil && st.Step == mixture.StepAllSet
	for i, c := range b.engine.Truth().Cylinders {
		o.Off = append(o.Off, c.PilotOut-c.PilotBest)
		held := false
		if st != nil {
			p := &st.Pilots[i]
			if o.Ended = append(o.Ended, p.Found); p.Found == mixture.AtPeak {
				o.Answers++
			}
			held = math.Abs(p.Best-(c.PilotBest-h.Start[i])) <= p.Uncertainty
		}
		o.Held = append(o.Held, held)
	}
	return o
}

// PilotReport is the result of the mixture stage's trial.
type PilotReport struct {
	Bikes int `json:"bikes"`
	// Found is the share of bikes with all screws within an eighth of a turn of their
	// best, FoundScrews that of screws; Held the share of stated 95 % intervals that
	// hold the best.
	Found       float64 `json:"found_share"`
	FoundScrews float64 `json:"found_screws_share"`
	Held        float64 `json:"intervals_hold_share"`
	Answers     float64 `json:"answers_share"` // of screws that end with an answer
	Unfinished  int     `json:"unfinished"`
	Off95       float64 `json:"off_turns_95"` // 95 % of the screws end nearer than this
	Moves       float64 `json:"moves_median"`
	StopMoves   float64 `json:"stop_moves_median"`
	Turns       float64 `json:"turns_median"`
	Idle        float64 `json:"idle_s_median"`
	Idle95      float64 `json:"idle_s_95"`
	// Far is how many turns led further than 3/4 from where the screw stood, Unexplained how many of them
	// had no reason told.
	Far         int `json:"far_turns"`
	Unexplained int `json:"far_turns_unexplained"`
}

// CountPilots makes the report of a mixture stage's trial.
func CountPilots(all []PilotOutcome) PilotReport {
	r := PilotReport{Bikes: len(all)}
	var off, moves, stops, turns, idle []float64
	held := 0.0
	for i := range all {
		o := &all[i]
		if o.Found() {
			r.Found += 1 / float64(len(all))
		}
		if !o.Done {
			r.Unfinished++
		}
		r.Answers += float64(o.Answers)
		r.Far, r.Unexplained = r.Far+o.Far, r.Unexplained+o.Unexplained
		for j, d := range o.Off {
			off = append(off, math.Abs(d))
			if math.Abs(d) <= peakTurns {
				r.FoundScrews++
			}
			if o.Held[j] {
				held++
			}
		}
		moves, stops = append(moves, float64(o.Moves)), append(stops, float64(o.StopMoves))
		turns, idle = append(turns, o.Turns), append(idle, o.Idle)
	}
	r.FoundScrews /= float64(len(off))
	r.Answers /= float64(len(off))
	r.Held = held / float64(len(off))
	r.Off95, r.Idle95 = quantile(off, 0.95), quantile(idle, 0.95)
	r.Moves, r.StopMoves, r.Turns, r.Idle = median(moves), median(stops), median(turns), median(idle)
	return r
}

// quantile returns what that share of the values are not above; NaN of none.
func quantile(v []float64, share float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := slices.Sorted(slices.Values(v))
	return s[int(math.Ceil(share*float64(len(s))))-1]
}
