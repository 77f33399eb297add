package engine

import (
	"math"
	"slices"
	"testing"
)

// What a story's engine has wrong is told, is mended at rest alone, and is then no longer so.
func TestMend(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]Wrong{
		"leaking-boot":     {Kind: Leaks, Cylinder: 1, Screw: -1},
		"perished-hose":    {Kind: Leaks, Cylinder: 3, Screw: -1, AtHose: true},
		"unseated-linkage": {Kind: Unseated, Cylinder: 4, Screw: 1},
		"misfiring":        {Kind: NoSpark, Cylinder: 4, Screw: -1},
		"tired-cylinder":   {Kind: Worn, Cylinder: 2, Screw: -1},
	} {
		s, _ := ScenarioNamed(name)
		c := s.Config(3)
		c.Running = true
		given := slices.Clone(c.Defects)
		e := New(c)
		if got := e.Wrongs(); len(got) != 1 || got[0] != want {
			t.Errorf("%s: %+v, want %+v", name, got, want)
			continue
		}
		if e.Mend(want) {
			t.Errorf("%s: mended on a running engine", name)
		}
		e.Stop()
		if mended := e.Mend(want); mended != (want.Kind != Worn) || mended != (len(e.Wrongs()) == 0) {
			t.Errorf("%s: mended %v, left %+v", name, mended, e.Wrongs())
		}
		if !slices.Equal(c.Defects, given) {
			t.Errorf("%s: the list that was given was changed: %+v, was %+v", name, c.Defects, given)
		}
	}
}

// A screw whose arm stands beside its spring moves nothing to the end of its thread; once it is seated it does, from
// where it stands.
func TestSeat(t *testing.T) {
	t.Parallel()
	s, _ := ScenarioNamed("unseated-linkage")
	e := New(s.Config(1))
	turn := func(turns float64) {
		e.Turn(1, turns)
		buf := make([]byte, 4096)
		for end := e.Truth().TimeS + math.Abs(turns)/handTurnsPerS + 1; e.Truth().TimeS < end; {
			e.Read(buf)
		}
	}
	opening := func() float64 { return e.Truth().Cylinders[3].Opening }
	before := opening()
	for _, turns := range []float64{ScrewTravel, -2 * ScrewTravel, ScrewTravel} {
		if turn(turns); opening() != before {
			t.Fatalf("%v turns: opening %v, was %v", turns, opening(), before)
		}
	}
	if e.Mend(e.Wrongs()[0]); opening() != before {
		t.Errorf("seated where it stood at first: opening %v, was %v", opening(), before)
	}
	if turn(0.5); math.Abs(opening()/before-1) < 0.02 {
		t.Errorf("half a turn after: opening %v, was %v", opening(), before)
	}
}

// A ride warms an engine at rest.
func TestRide(t *testing.T) {
	t.Parallel()
	s, _ := ScenarioNamed("cold-start")
	e := New(s.Config(1))
	if cold := e.Truth().Warm; cold != 0 || !e.Ride() || e.Truth().Warm != 1 {
		t.Errorf("warm %v, then %v", cold, e.Truth().Warm)
	}
}

// The story of an unseated arm is about a screw that is asked for, whatever the seed.
func TestTheUnseatedStandApart(t *testing.T) {
	t.Parallel()
	s, _ := ScenarioNamed("unseated-linkage")
	for seed := uint64(1); seed <= 20; seed++ {
		of := New(s.Config(seed)).Truth().Cylinders
		if off := math.Abs(math.Log(of[2].Opening / of[3].Opening)); off < apartLeast {
			t.Errorf("seed %d: cylinders 3 and 4 stand apart by %.2f", seed, off)
		}
	}
}
