package balance

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
)

// A cylinder that never fires is a fault for as long as it is so, however the speed moves, and no screw is named; one
// in eight is not that.
func TestADeadCylinderIsAFault(t *testing.T) {
	for every, dead := range map[int]bool{1: true, 8: false} {
		b := newBench(4, 1)
		b.draw = []float64{25, 25, 25, 29}
		bal := New(Config{Bank: b.bank, Ambient: 101.3})
		turns := 0
		var r Reading
		for k := range 200 {
			s := b.span()
			s.Misfire[3] = k%every == 0
			if r = bal.Push(&s); r.Advice.Kind == advice.Turn {
				turns++
			}
		}
		if told := r.Advice.Why == advice.WhyDead && r.Advice.Cylinder == 4; told != dead || dead != (turns < 10) {
			t.Errorf("misfires one time in %d: %+v, turns told in %d cycles", every, r.Advice, turns)
		}
		b.blip = 8 // the speed moves
		for range 16 {
			s := b.span()
			if r = bal.Push(&s); dead && r.Advice.Kind != advice.Fault {
				t.Fatalf("no longer told: %+v", r.Advice)
			}
		}
		if bal.GoOn(); dead && b.run(bal, 20, false).Advice.Why == advice.WhyDead {
			t.Error("put aside, and told again")
		}
	}
}

// A hose that is perhaps a jet, the others not, is told once, and the levelling goes on; where all are, it is not. It
// is in doubt no longer once it is seen to be free.
func TestAHoseThatIsHalfBlockedIsTold(t *testing.T) {
	for jets, want := range map[int]bool{0: false, 1: true, 4: false} {
		b := newBench(4, 1)
		b.draw = []float64{25, 25, 25, 29}
		bal := New(Config{Bank: b.bank, Ambient: 101.3})
		told, turns := 0, 0
		var r Reading
		for range 300 {
			s := b.span()
			for c := range jets {
				s.Hose[c], s.Opening[c] = cycle.PerhapsJet, math.NaN()
			}
			switch r = bal.Push(&s); {
			case r.Advice.Why == advice.WhyHalfBlocked && r.Advice.Cylinder == 1:
				told++
			case r.Advice.Kind == advice.Turn:
				turns++
			}
		}
		if (told > 20) != want || turns == 0 || (r.Cylinders[0].Doubt == advice.WhyHalfBlocked) != want {
			t.Errorf("%d jets: told in %d cycles, turns in %d; %+v", jets, told, turns, r.Cylinders[0])
		}
		for range 90 { // it is seen to be free
			s := b.span()
			r = bal.Push(&s)
		}
		if r.Cylinders[0].Doubt != "" {
			t.Errorf("%d jets: still in doubt: %+v", jets, r.Cylinders[0])
		}
	}
}

// An idle far below its range is no reason to keep a cylinder back that does not fire: it is why the idle is low.
func TestALowIdleHidesNoDeadCylinder(t *testing.T) {
	b := newBench(4, 1)
	bal := New(Config{Bank: b.bank, Ambient: 101.3, IdleLow: 1600, IdleHigh: 1800}) // the bench turns at 1043 rpm
	for k := range 60 {
		s := b.span()
		s.Misfire[2] = k > 20
		want := map[bool]advice.Why{true: advice.WhyDead, false: advice.WhyOffIdle}[k > 35]
		if r := bal.Push(&s); k > 18 && (k <= 20 || k > 35) && r.Advice.Why != want {
			t.Fatalf("cycle %d: %+v, want %s", k, r.Advice, want)
		}
	}
}

// A speed that dropped at once, no throttle having been shut, is told for as long as it is so, or until the key says
// that all fire; once the cylinder is known it is named, and no key goes past that.
func TestASpeedThatDropped(t *testing.T) {
	for _, c := range []struct {
		name    string
		said    bool
		stopped int
		want    advice.Why
	}{
		{"which is unknown", false, 0, advice.WhyOneSilent}, {"put aside", true, 0, ""},
		{"3", false, 3, advice.WhyDead}, {"3 is no matter of a key", true, 3, advice.WhyDead},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(4, 1)
			b.draw = []float64{25, 25, 25, 29}
			bal := New(Config{Bank: b.bank, Ambient: 101.3})
			push := func(n int, fell bool, stopped int) (r Reading) {
				for range n {
					s := b.span()
					s.Fell, s.Stopped = fell, stopped
					r = bal.Push(&s)
				}
				return r
			}
			if r := push(30, false, 0); r.Advice.Kind != advice.Turn {
				t.Fatalf("before: %+v", r.Advice)
			}
			if r := push(20, true, c.stopped); r.Advice.Kind != advice.Fault || r.Advice.Cylinder != c.stopped {
				t.Errorf("dropped: %+v", r.Advice)
			}
			if c.said {
				bal.GoOn()
			}
			if r := push(20, true, c.stopped); (r.Advice.Kind == advice.Fault) != (c.want != "") ||
				c.want != "" && r.Advice.Why != c.want {
				t.Errorf("then: %+v, want %q", r.Advice, c.want)
			}
			if r := push(40, false, 0); r.Advice.Kind == advice.Fault {
				t.Errorf("fires again: %+v", r.Advice)
			}
			if r := push(3, true, 0); r.Advice.Why != advice.WhyOneSilent {
				t.Errorf("dropped once more: %+v", r.Advice)
			}
		})
	}
}

// A cylinder that does not fire is not forgotten by a restart: until it is seen to fire, or a key says so, no idle is
// told to be raised and no screw is named; it is told anew where it still does not.
func TestARestartForgetsNoDeadCylinder(t *testing.T) {
	for _, mended := range []bool{false, true} {
		b := newBench(4, 1)
		bal := New(Config{Bank: b.bank, Ambient: 101.3, IdleLow: 1600, IdleHigh: 1800, Keys: true})
		run := func(cycles int, fires, turns bool) (r Reading) {
			for range cycles {
				s := b.span()
				s.Misfire[2], s.Cycle = !fires, turns
				r = bal.Push(&s)
			}
			return r
		}
		if a := run(40, false, true).Advice; a.Why != advice.WhyDead {
			t.Fatalf("%+v", a)
		}
		run(40, true, false)
		for range 30 { // it takes time to see which one does not fire
			if a := run(1, true, true).Advice; a.Why == advice.WhyOffIdle || a.ToTurn(advice.SyncScrew) {
				t.Fatalf("mended %v: %+v just after the restart", mended, a)
			}
		}
		want := map[bool]advice.Why{true: advice.WhyOffIdle, false: advice.WhyDead}[mended]
		if a := run(40, mended, true).Advice; a.Why != want {
			t.Errorf("mended %v: %+v, want %s", mended, a, want)
		}
		run(40, true, false)
		bal.GoOn()
		if a := run(20, true, true).Advice; a.Why != advice.WhyOffIdle {
			t.Errorf("mended %v: after the key %+v", mended, a)
		}
	}
}
