package balance

import (
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
)

// spanOfHoses is cycle number k of a four, of which each channel's hose sits on a cylinder.
func spanOfHoses(b *bank.Bank, hose [4]int, k int) *cycle.Span {
	s := &cycle.Span{Start: 0.1 * float64(k), Period: 0.1, Cycle: true, N: 4}
	for c := range 4 {
		s.State[c], s.Mean[c] = cycle.OK, 75
		at := b.FiringAngle(hose[c])/bank.CycleDegrees + 0.31 + 0.002*float64(k%5)
		s.DipAt[c] = at - float64(int(at))
	}
	return s
}

// What the user puts aside of the hoses is what they looked like: another fault that is put aside leaves them alone.
func TestHosesArePutAside(t *testing.T) {
	b := bank.Default(4)
	for _, c := range []struct {
		hose  [4]int
		aside bool
	}{{[4]int{1, 2, 3, 4}, false}, {[4]int{1, 3, 2, 4}, true}, {[4]int{1, 1, 3, 4}, true}} {
		bal := New(Config{Bank: b, Ambient: 101.3})
		for k := range 40 {
			if r := bal.Push(spanOfHoses(&b, c.hose, k)); r.HosesAside {
				t.Fatalf("%v: put aside by nobody", c.hose)
			}
		}
		bal.GoOn()
		if r := bal.Push(spanOfHoses(&b, c.hose, 40)); r.HosesAside != c.aside {
			t.Errorf("%v: aside %v, %+v", c.hose, r.HosesAside, r.Hoses)
		}
	}
}

// A misfire that is found while hoses are exchanged is that of another cylinder: it is forgotten once they are put
// right, with the engine running or not.
func TestWhatExchangedHosesToldIsForgotten(t *testing.T) {
	b := bank.Default(4)
	for _, off := range []bool{false, true} {
		bal := New(Config{Bank: b, Ambient: 101.3})
		var doubt [2]advice.Why
		for k := range 200 {
			hose := [4]int{1, 3, 2, 4}
			if k >= 100 {
				hose = [4]int{1, 2, 3, 4}
			}
			s := spanOfHoses(&b, hose, k)
			s.Misfire[1] = k < 100 && k%6 == 0
			if off && k == 100 {
				s.Break, s.Cycle = true, false
			}
			r := bal.Push(s)
			doubt[k/100] = r.Cylinders[1].Doubt
		}
		if doubt != [2]advice.Why{advice.WhyMisfires, ""} {
			t.Errorf("engine off %v: %q", off, doubt)
		}
	}
}
