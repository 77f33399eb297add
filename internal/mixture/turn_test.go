package mixture

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/engine"
	"evendraw/internal/heat"
)

// Nothing goes on until the turn is confirmed.
func TestTrimWaitsForMade(t *testing.T) {
	r := &trimRun{}
	idle := NewIdleSpeed(IdleConfig{})
	r.trim = NewTrim(TrimConfig{Cylinders: 2, Confirm: true}, idle)
	r.bench = newBench(t, engine.Config{Bank: bank.Default(2), Seed: 1, Running: true}, func(s *cycle.Span) {
		st := idle.Push(s)
		r.state = r.trim.Push(s, &st, math.NaN(), &heat.State{Limit: 1e6})
	})
	r.run(30, func() bool { return r.state.Step == StepTurn })
	r.run(30, nil)
	if r.state.Step != StepTurn || !math.IsInf(r.state.LeftS, 1) {
		t.Fatalf("went on without the turn: %s, %v s left", r.state.Step, r.state.LeftS)
	}
	r.trim.Made()
	r.run(1, nil)
	if r.state.Step != StepWatch {
		t.Errorf("after the turn: %s", r.state.Step)
	}
}

// An engine that stops by itself comes back to the very screw and setting; one that stops there again leaves
// it, and is not told to go there any more.
func TestTrimAfterAStall(t *testing.T) {
	r := &trimRun{}
	idle := NewIdleSpeed(IdleConfig{})
	r.trim = NewTrim(TrimConfig{Cylinders: cylinders(), Screws: FuelScrews, Only: []int{1}}, idle)
	r.bench = newBench(t, engine.Config{Bank: bank.Default(cylinders()), Seed: 1, Running: true}, func(s *cycle.Span) {
		st := idle.Push(s)
		r.state = r.trim.Push(s, &st, math.NaN(), &heat.State{Limit: 1e6})
	})
	r.run(30, func() bool { return r.state.Step == StepTurn })
	r.run(3, nil)
	r.trim.Made()
	r.run(1, nil)
	at := r.state.Pilots[0].Moved
	stall := func() {
		r.engine.Stop()
		r.run(6, nil)
		r.engine.Start()
	}
	stall()
	if r.trim.turn.why == advice.WhyBack && r.state.Goal < at { // told back as it ran down
		return
	}
	if a := r.state.Advice; a.Why != advice.WhyNoCycle || r.state.Pilots[0].Moved != at || at == 0 {
		t.Errorf("stopped once at %+.3f; now %+.3f: %+v", at, r.state.Pilots[0].Moved, a)
	}
	r.run(20, func() bool { return r.state.Advice.Kind == advice.Hold })
	if r.state.Step != StepWatch || r.state.Pilots[0].Moved != at {
		t.Errorf("back at %s, %+.3f", r.state.Step, r.state.Pilots[0].Moved)
	}
	stall()
	if a := r.state.Advice; a.Why != advice.WhyStalled || r.state.Goal != 0 {
		t.Errorf("stopped twice at %+.3f; now told %+.3f: %+v", at, r.state.Goal, a)
	}
	r.run(3, nil)
	r.trim.Made()
	r.run(60, func() bool {
		if r.state.Goal >= at {
			t.Errorf("back to %+.3f, where it stopped", r.state.Goal)
			return true
		}
		if r.state.Step == StepTurn {
			r.trim.Made()
		}
		return false
	})
}

// A turn that nobody confirms and that the speed does not show is asked for, once and for as long as nobody answers:
// never taken as made, told anew, or passed over.
func TestTurnThatIsNotMade(t *testing.T) {
	s := newSynthetic(1)
	idle := NewIdleSpeed(IdleConfig{})
	trim := NewTrim(TrimConfig{Cylinders: 4, Only: []int{1}}, idle)
	var moved [4]float64
	var st TrimState
	asked, was := 0, advice.Why("")
	for s.now < 300 && st.Step != StepAllSet {
		p := s.span(&moved)
		is := idle.Push(p)
		st = trim.Push(p, &is, math.NaN(), &heat.State{Limit: 1e6})
		if st.Advice.Why == advice.WhyTurned && was != advice.WhyTurned {
			asked++
		}
		was = st.Advice.Why
		if st.Pilots[0].Moved != 0 {
			t.Fatalf("taken as made at %.0f s: %+v", s.now, st.Advice)
		}
	}
	if p := st.Pilots[0]; asked != 1 || p.Found != Trimming || p.Open == 0 || st.Step != StepTurn || !p.Astray() ||
		st.Advice.Why != advice.WhyTurned {
		t.Errorf("asked %d times, %s at %s, %g open", asked, p.Found, st.Step, p.Open)
	}
}

// A screw that stands in a trial position is not left when nobody confirms its next turn: it is asked for until
// somebody does, as the next screw would be trimmed beside a wrong one.
func TestTurnThatIsNotMadeFromATrialPosition(t *testing.T) {
	s := newSynthetic(1)
	idle := NewIdleSpeed(IdleConfig{})
	trim := NewTrim(TrimConfig{Cylinders: 4}, idle)
	var moved [4]float64
	var st TrimState
	left := 0.0 // when the hand went away
	for s.now < left+300 {
		p := s.span(&moved)
		is := idle.Push(p)
		st = trim.Push(p, &is, math.NaN(), &heat.State{Limit: 1e6})
		if left > 0 {
			told := st.Step == StepTurn || st.Step == StepSet
			if !told && st.Step != StepWatch || st.Cylinder != 1 || told != (st.Pilots[0].Open != 0) {
				t.Fatalf("%.0f s after the hand went away: %s of cylinder %d, screw 1 %+.3f turns off",
					s.now-left, st.Step, st.Cylinder, st.Pilots[0].Moved)
			}
			continue
		}
		if st.Step == StepTurn {
			by := st.Goal - st.Pilots[0].Moved
			if st.Pilots[0].Open != by || by == 0 {
				t.Fatalf("told %g turns, %g of them open", by, st.Pilots[0].Open)
			}
			if trim.Made() {
				moved[0] += by
				left = s.now
			}
		}
		if s.now > 300 {
			t.Fatal("no turn was asked for")
		}
	}
	if !st.Advice.ToTurn(advice.PilotScrew) || !st.Pilots[0].InTrial() {
		t.Errorf("after 300 s: %+v, screw 1 %+.3f turns off", st.Advice, st.Pilots[0].Moved)
	}
	if !trim.Made() {
		t.Error("the hand that came back is not heard")
	}
}

// A hand that made less than told says so: what was read counts for where the screw stands, and the peak is
// the same.
func TestCorrectedTurn(t *testing.T) {
	for _, corrects := range []bool{false, true} {
		s := newSynthetic(5)
		idle := NewIdleSpeed(IdleConfig{})
		trim := NewTrim(TrimConfig{Cylinders: 4, Only: []int{1}}, idle)
		var moved [4]float64
		var st TrimState
		first := true
		for s.now < 300 && st.Step != StepAllSet {
			p := s.span(&moved)
			is := idle.Push(p)
			st = trim.Push(p, &is, math.NaN(), &heat.State{Limit: 1e6})
			if st.Step != StepTurn && st.Step != StepSet {
				continue
			}
			by := st.Goal - st.Pilots[0].Moved
			if !trim.Made() {
				continue
			}
			if moved[0] += by; first {
				moved[0] -= by / 2
			}
			if first && corrects && !trim.Correct(math.Abs(by/2)) {
				t.Error("nothing to correct")
			}
			first = false
		}
		right := math.Abs(st.Pilots[0].Moved-moved[0]) < 1e-9
		if off := math.Abs(moved[0] - s.best[0]); right != corrects || corrects && off > 0.15 {
			t.Errorf("corrects %v: told %+.3f, stands %+.3f, best %+.3f", corrects, st.Pilots[0].Moved, moved[0],
				s.best[0])
		}
	}
}

// madeAtOnce makes the turn that is told as soon as an Enter can be of it.
func madeAtOnce(trim *Trim, st *TrimState, moved *[4]float64) {
	if trim.Made() {
		moved[st.Cylinder-1] += st.Goal - st.Pilots[st.Cylinder-1].Moved
	}
}

// An Enter that comes before the turn that is told can have been read and made, or while the engine is to stand,
// was meant for something else: it counts for nothing.
func TestEnterThatComesTooSoon(t *testing.T) {
	s := newSynthetic(2)
	idle := NewIdleSpeed(IdleConfig{})
	trim := NewTrim(TrimConfig{Cylinders: 4, Only: []int{1}}, idle)
	var moved [4]float64
	var st TrimState
	push := func(seconds float64) {
		for end := s.now + seconds; s.now < end; {
			p := s.span(&moved)
			is := idle.Push(p)
			st = trim.Push(p, &is, math.NaN(), &heat.State{Limit: 1e6})
		}
	}
	for st.Step != StepTurn {
		push(0.1)
	}
	told := s.now
	for s.now < told+readS+math.Abs(st.Goal)/quickTurnsPerS-0.2 {
		if trim.Made() || trim.state.Pilots[0].Moved != 0 {
			t.Fatalf("taken as made %.1f s after it was told", s.now-told)
		}
		push(0.1)
	}
	push(0.5)
	trim.Interrupt()
	if trim.Made() {
		t.Error("taken as made while the engine is to stand")
	}
	push(1) // it comes back, and the turn is told anew
	if trim.Made() {
		t.Error("taken as made as soon as it came back")
	}
	push(3)
	if !trim.Made() || trim.state.Pilots[0].Moved != st.Goal {
		t.Errorf("not taken: %+v", trim.state)
	}
}

// Results of before are kept, a screw that was under way is gone on with from where it stands, and a set screw
// can be corrected while the next is under way.
func TestTrimGoesOnFromEarlier(t *testing.T) {
	s := newSynthetic(3)
	idle := NewIdleSpeed(IdleConfig{})
	earlier := []Pilot{{Cylinder: 1, Found: AtPeak, Moved: 0.25, StartOut: 2, Out: 2.25, Best: 0.2, Uncertainty: 0.1},
		{Cylinder: 2, Found: Trimming, Moved: 0.75, StartOut: 2, Out: 2.75}}
	trim := NewTrim(TrimConfig{Cylinders: 4, Earlier: earlier}, idle)
	moved := [4]float64{0.25, 0.75}
	var st TrimState
	corrected := false
	for s.now < 600 && st.Step != StepAllSet {
		p := s.span(&moved)
		is := idle.Push(p)
		st = trim.Push(p, &is, math.NaN(), &heat.State{Limit: 1e6})
		if st.Step == StepBase && st.Cylinder == 3 && !corrected {
			corrected = true
			moved[1] += 0.125 // the last turn of screw 2 was other than told
			trim.Correct(math.Abs(trim.turn.to-trim.turn.from) + math.Copysign(0.125, trim.turn.to-trim.turn.from))
			continue
		}
		if st.Step == StepTurn || st.Step == StepSet {
			madeAtOnce(trim, &st, &moved)
		}
	}
	if st.Pilots[0] != (Pilot{Cylinder: 1, Found: AtPeak, Moved: 0.25, StartOut: 2, Out: 2.25, Best: 0.2,
		Uncertainty: 0.1}) {
		t.Errorf("what was done before: %+v", st.Pilots[0])
	}
	for i := 1; i < 4; i++ {
		if p := st.Pilots[i]; p.Found != AtPeak && p.Found != Unsure || math.Abs(p.Moved-moved[i]) > 1e-9 ||
			math.Abs(moved[i]-s.best[i]) > 0.2 {
			t.Errorf("%+v, stands %+.3f, best %+.3f", p, moved[i], s.best[i])
		}
	}
}

// Four screws do not fit what is left of the budget: half are trimmed, the engine rests, and the trim goes on
// with the third.
func TestTrimRests(t *testing.T) {
	s := newSynthetic(4)
	idle := NewIdleSpeed(IdleConfig{})
	budget := heat.State{Seconds: 120}
	trim := NewTrim(TrimConfig{Cylinders: 4}, idle)
	var moved [4]float64
	var st TrimState
	done := 0
	for s.now < 2000 && st.Step != StepAllSet {
		p := s.span(&moved)
		if st.Step == StepRest { // the hand stops it
			*p = cycle.Span{Start: p.Start, Period: p.Period, N: 4}
			budget.Stand(p.Period)
		} else {
			budget.Run(p.Period, 1)
		}
		is := idle.Push(p)
		was := st.Step
		if st = trim.Push(p, &is, math.NaN(), &budget); st.Step == StepRest && was != StepRest {
			for _, p := range st.Pilots {
				if p.Found.Final() {
					done++
				}
			}
		}
		if budget.Hot {
			t.Fatalf("too hot at %.0f s, %+v", s.now, st.Advice)
		}
		if st.Step == StepTurn || st.Step == StepSet {
			madeAtOnce(trim, &st, &moved)
		}
	}
	if done != 2 || st.Step != StepAllSet {
		t.Errorf("%d screws before the rest, ended at %s", done, st.Step)
	}
	for _, row := range []struct {
		screws  int
		seconds float64
		want    int
	}{{4, 0, 4}, {4, 60, 4}, {4, 100, 2}, {4, 200, 1}, {4, 280, 0}, {2, 150, 2}} {
		if got := RestAfter(row.screws, &heat.State{Seconds: row.seconds}); got != row.want {
			t.Errorf("%d screws at %.0f s: rest after %d, want %d", row.screws, row.seconds, got, row.want)
		}
	}
}

// What is left of a turn that was made in part is not taken as made because the speed still answers that part.
func TestTheRestOfATurnIsNotSeenInItsPart(t *testing.T) {
	for seed := range uint64(6) {
		s := newSynthetic(seed + 1)
		idle := NewIdleSpeed(IdleConfig{})
		trim := NewTrim(TrimConfig{Cylinders: 4, Only: []int{1}}, idle)
		var moved [4]float64
		var st TrimState
		part, corrected := 0.0, 0.0
		for s.now < 300 && (corrected == 0 || s.now < corrected+8) {
			p := s.span(&moved)
			is := idle.Push(p)
			st = trim.Push(p, &is, math.NaN(), &heat.State{Limit: 1e6})
			by := st.Goal - st.Pilots[0].Moved
			switch {
			case corrected > 0 && st.Pilots[0].Moved != part:
				t.Fatalf("seed %d: %.1f s after a part was counted the rest is taken as made", seed, s.now-corrected)
			case corrected == 0 && st.Step == StepTurn && part == 0 && s.now-trim.turn.shown > reactS:
				part = by * 2 / 3
				moved[0] += part
			case corrected == 0 && part != 0 && st.Step == StepTurn && s.now-trim.turn.shown > 2*reactS:
				if !trim.Correct(math.Abs(part)) {
					t.Fatal("nothing to correct")
				}
				corrected = s.now
			}
		}
		if corrected == 0 {
			t.Fatalf("seed %d: the part was never counted: %+v", seed, st.Advice)
		}
	}
}
