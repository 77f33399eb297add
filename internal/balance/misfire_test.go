package balance

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/pressure"
)

// misfire changes two cycles of cylinder 2 as the practice engine shows it: the first
// slows the crank by 2 %, by the second it has lost 4 %.
func misfire(b *bench, st *Balance) {
	for _, odd := range []struct{ off, slower float64 }{{-0.7, 0.98}, {-1.3, 0.96}} {
		b.draw[1] += odd.off
		s := b.span()
		s.Period /= odd.slower
		st.Push(&s)
		b.draw[1] -= odd.off
	}
}

// A misfire, two cycles long, is no change and nothing that a hand did, and level stays
// what it was. Without the speed's fall the same leap is a change, at the latest after
// leapCycles.
func TestAMisfireIsNoTurn(t *testing.T) {
	b := newBench(4, 3)
	b.scatter = 0.03
	st := New(Config{Bank: b.bank, Ambient: 101.3})
	var r Reading
	for range 60 {
		s := b.span()
		r = st.Push(&s)
	}
	if r.Advice.Kind != advice.Turn {
		t.Fatalf("advice %+v", r.Advice)
	}
	before, cycles := float64(r.Cylinders[1].Difference), r.Cycles
	for range 8 {
		misfire(b, st)
		for range 3 {
			s := b.span()
			r = st.Push(&s)
			if r.Advice.Kind != advice.Turn || r.Cycles < cycles {
				t.Fatalf("advice %+v over %d cycles after a misfire", r.Advice, r.Cycles)
			}
		}
	}
	if d := float64(r.Cylinders[1].Difference); math.Abs(d-before) > 0.1 {
		t.Errorf("difference %.2f, was %.2f", d, before)
	}
	if h := st.win.rejectedSpread(); h < 0.1 || h > 0.8 {
		t.Errorf("what was left out would change %.2f kPa", h)
	}
	b.draw[1] -= 1.3
	for i := range 2 * leapCycles {
		s := b.span()
		if i == 0 {
			s.Period /= 0.98
		}
		r = st.Push(&s)
	}
	if r.Cycles > leapCycles+2 {
		t.Errorf("a change that stays is averaged away: %d cycles", r.Cycles)
	}
}

// A cycle that is slower, in which a cylinder draws less, is told as a misfire only where the spacing of the pulses
// says so: a cycle that was cut wrong looks the same.
func TestASlowCycleAloneIsNoMisfire(t *testing.T) {
	b := newBench(4, 3)
	b.scatter = 0.03
	st := New(Config{Bank: b.bank, Ambient: 101.3})
	for i := range 200 {
		s := b.span()
		r := st.Push(&s)
		if i >= 30 && i%8 == 0 {
			b.draw[1] -= 1
			s = b.span()
			s.Period /= 0.95
			r = st.Push(&s)
			b.draw[1] += 1
		}
		if r.Cylinders[1].Doubt != "" || r.Advice.Kind == advice.Fault {
			t.Fatalf("cycle %d: doubt %q, advice %+v", i, r.Cylinders[1].Doubt, r.Advice)
		}
	}
}

// An engine whose speed and draws rise together for long is cold; one whose throttle stop is turned is not.
func TestAColdEngineIsTold(t *testing.T) {
	for _, c := range []struct {
		name       string
		load, air  float64 // by what share a minute the speed rises, with the draws and without
		cold       bool
		stopTurned bool
	}{
		{name: "warm"},
		{name: "cold", load: 0.08, cold: true},
		{name: "cold runners", air: 0.05, cold: true},
		{name: "throttle stop", air: 0.05, stopTurned: true},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(4, 5)
			st := New(Config{Bank: b.bank, Ambient: 101.3})
			cold := false
			for b.time < 60 {
				minutes := b.time / 60
				s := b.span()
				mean := pressure.KPa(0)
				for i := range s.N {
					mean += s.Mean[i] / pressure.KPa(s.N)
				}
				sway := float64(101.3-24-mean) / 18 // speed and draws sway together
				s.Period /= math.Exp((c.load+c.air)*minutes + sway)
				for i := range s.N {
					s.Mean[i] -= pressure.KPa(18 * c.load * minutes)
				}
				if c.stopTurned {
					st.StopTurned()
				}
				cold = cold || st.Push(&s).Advice.Why == advice.WhyCold
			}
			if cold != c.cold {
				t.Errorf("told cold: %v", cold)
			}
		})
	}
}

// A hand that had turned the wrong way, and is told the other way, goes on away from
// level: it is told once more.
func TestAHandThatGoesOnTheWrongWay(t *testing.T) {
	b := newBench(2, 7)
	b.scatter, b.draw[0], b.draw[1] = 0.03, 23, 27
	st := New(Config{Bank: b.bank, Ambient: 101.3})
	moved := 0 // index of the cylinder that the screw moves
	if b.bank.Moves(0, 2) {
		moved = 1
	}
	away := math.Copysign(0.04, b.draw[moved]-25)
	told := 0
	var before advice.Direction
	for range 200 {
		s := b.span()
		r := st.Push(&s)
		if r.Advice.Kind == advice.Turn || told > 0 && told < 3 {
			b.draw[moved] += away
		}
		if r.Advice.Kind == advice.Reverse && r.Advice.Direction != before {
			before = r.Advice.Direction
			if told++; told == 2 {
				return
			}
		}
	}
	t.Errorf("told the other way %d times, the draw is %.1f kPa", told, b.draw[moved])
}

// Misfires that begin when the butterfly is shut tell of a lean cylinder, others do not.
func TestLean(t *testing.T) {
	for _, c := range []struct {
		name  string
		early bool
		shut  float64
		want  advice.Why
	}{{"since it was shut", false, 0.8, advice.WhyLean}, {"before as well", true, 0.8, advice.WhyMisfires},
		{"never shut", false, 1, advice.WhyMisfires}} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(4, 9)
			st := New(Config{Bank: b.bank, Ambient: 101.3})
			var r Reading
			for k := range 300 {
				s := b.span()
				for i := range s.N {
					s.Opening[i] = 20
				}
				if k > 100 {
					s.Opening[2] *= c.shut
				}
				s.Misfire[2] = (c.early || k > 110) && k%8 == 0
				r = st.Push(&s)
			}
			if got := r.Cylinders[2].Doubt; got != c.want {
				t.Errorf("doubt %q, want %q", got, c.want)
			}
		})
	}
}

// A cylinder that misfires since a screw has shut it is told with that screw, and the way back; one that did so before,
// or that was opened, is not.
func TestMisfiresSinceAScrewWasTurned(t *testing.T) {
	for _, c := range []struct {
		name  string
		off   float64 // kPa that the screw is off
		early bool
		want  advice.Why
	}{{"shut", -3, false, advice.WhyLean}, {"before as well", -3, true, advice.WhyMisfires},
		{"opened", 3, false, advice.WhyMisfires}} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(4, 9)
			b.scatter, b.draw = 0.03, []float64{25 + c.off, 25 + c.off, 25, 25}
			for s, e := range []float64{4, -4, 4} {
				b.bank.Screws[s].EffectKPaPerTurn, b.effect[s] = e, e
			}
			st := New(Config{Bank: b.bank, Ambient: 101.3})
			var r Reading
			for k := range 500 {
				s := b.span()
				near := math.Abs(b.draw[1]-25) < 1.2
				s.Misfire[1] = (c.early || near) && k%2 == 0
				if r = st.Push(&s); r.Advice.Kind == advice.Fault {
					break
				}
				if k > 80 && !near { // the hand stays off from then on
					b.follow(r.Advice)
				}
			}
			a := &r.Advice
			lean := c.want == advice.WhyLean
			if a.Why != c.want || a.Cylinder != 2 || (a.ScrewName == "2-3") != lean {
				t.Fatalf("%s %s of %d, screw %q; want %s", a.Kind, a.Why, a.Cylinder, a.ScrewName, c.want)
			}
			if lean && (a.Direction != advice.WayOf(-b.effect[a.Screw]) || a.Turns < 0.3 || a.Turns > 1.2) {
				t.Errorf("back %s by %.2f turns", a.Direction, a.Turns)
			}
		})
	}
}

// Misfires of a twin make its speed unsteady; they count all the same, and are told once it can be read.
func TestMisfiresThatMakeTheSpeedUnsteady(t *testing.T) {
	b := newBench(2, 1)
	bal := New(Config{Bank: b.bank, Ambient: 101.3})
	unsteady := 0
	var r Reading
	for k := range 170 {
		s := b.span()
		if k < 150 {
			s.Misfire[1] = k%8 == 7
			if since := k % 8; k > 8 && since < 4 { // the cycles after it
				s.Period *= 1.5 - 0.1*float64(since)
			}
		}
		if r = bal.Push(&s); k > 20 && k < 150 && !r.Steady {
			unsteady++
		}
	}
	if unsteady < 100 {
		t.Fatalf("%d cycles were unsteady: no trial of that", unsteady)
	}
	if a := &r.Advice; a.Why != advice.WhyMisfires || a.Cylinder != 2 {
		t.Errorf("%+v", a)
	}
}

// Misfires that may be either of two cylinders' are told as that, stop the levelling until the key, and stay a doubt of
// both.
func TestMisfiresOfEitherOfTwo(t *testing.T) {
	b := newBench(4, 1)
	b.draw = []float64{25, 25, 25, 29}
	bal := New(Config{Bank: b.bank, Ambient: 101.3})
	run := func() (r Reading) {
		for k := range 80 {
			s := b.span()
			s.Either[1], s.Either[3] = k%8 == 0, k%8 == 0
			r = bal.Push(&s)
		}
		return r
	}
	r := run()
	if r.Advice.Why != advice.WhyOneMisfires || r.Advice.Kind != advice.Fault {
		t.Errorf("%+v", r.Advice)
	}
	bal.GoOn()
	if r = run(); r.Advice.Kind == advice.Fault {
		t.Errorf("put aside: %+v", r.Advice)
	}
	for c, want := range []advice.Why{"", advice.WhyOneMisfires, "", advice.WhyOneMisfires} {
		if got := r.Cylinders[c].Doubt; got != want {
			t.Errorf("cylinder %d: doubt %q, want %q", c+1, got, want)
		}
	}
}
