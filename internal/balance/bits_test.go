package balance

import (
	"math"
	"testing"

	"evendraw/internal/advice"
)

// Another screw than the one that was named, turned bit by bit, each too little to be told, is told once the sum is
// enough; turned back by all of that it is no new fault.
func TestAnotherScrewTurnedBitByBit(t *testing.T) {
	const banks, bits, bit = 30, 4, 0.4 // kPa
	told, again, cleared := 0, 0, 0
	for seed := range uint64(banks) {
		b := newBench(4, seed)
		b.scatter = 0.04
		for s := range b.effect {
			b.bank.Screws[s].EffectKPaPerTurn = b.effect[s]
		}
		st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		var a advice.Advice
		for b.time < 60 && !a.ToTurn(advice.SyncScrew) {
			a = b.run(st, 1, false).Advice
		}
		b.run(st, 20, false)
		other, made := (st.advisor.screw+1)%len(b.bank.Screws), 0.0
		turns := bit / math.Abs(b.effect[other])
		for k := 0; k < bits && a.Why != advice.WhyOtherScrew; k++ {
			b.turn(other, turns)
			made += turns
			for c := 0; c < 52 && a.Why != advice.WhyOtherScrew; c++ {
				a = b.run(st, 1, false).Advice
			}
		}
		if a.Why != advice.WhyOtherScrew {
			continue
		}
		told++
		b.run(st, 10, false)
		for range 12 {
			b.turn(other, -made/12)
			a = b.run(st, 1, false).Advice
		}
		gone := false
		for range 60 {
			a = b.run(st, 1, false).Advice
			if gone && a.Why == advice.WhyOtherScrew {
				again++
				break
			}
			gone = gone || a.Why != advice.WhyOtherScrew
		}
		if gone {
			cleared++
		}
	}
	t.Logf("of %d: told %d, cleared %d, told again %d", banks, told, cleared, again)
	if told < banks*8/10 || cleared < told || again > 0 {
		t.Error("not told, or told again")
	}
}
