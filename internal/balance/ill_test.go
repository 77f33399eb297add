package balance

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/learned"
)

// What was learned of a screw's size while its cylinder misfired is not kept, and is forgotten once the engine has
// stood: no amount is told by it that goes past level. Its direction stays.
func TestWhatWasLearnedOfAnIllCylinderIsForgotten(t *testing.T) {
	for name, card := range map[string]float64{"card": 4, "no card": 0} {
		t.Run(name, func(t *testing.T) {
			b, _ := leanBench()
			for s := range b.effect {
				b.bank.Screws[s].EffectKPaPerTurn = card
			}
			b.draw[0], b.draw[1] = 20, 20
			fresh := learned.NewScrew(card)
			st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
			b.effect[2] = 2 // behind the torn boot
			hand, ill := onceHand{due: math.Inf(1)}, true
			step := func() advice.Advice {
				s := b.span()
				s.Misfire[1] = ill && b.draw[1] > 22.5 && int(b.time/s.Period)%2 == 0
				a := st.Push(&s).Advice
				hand.follow(b, &a)
				return a
			}
			a := step()
			for k := 0; a.Why != advice.WhyLean && k < 2000; k++ {
				a = step()
			}
			if a.ScrewName != "2-3" || a.Why != advice.WhyLean {
				t.Fatalf("%s of %d, screw %q", a.Why, a.Cylinder, a.ScrewName)
			}
			if size := st.advisor.screws[2].Size(); size > 3.8 {
				t.Fatalf("the boot did not show: %.2f kPa a turn", size)
			}
			if kept := st.Effects()[2]; kept != card {
				t.Errorf("%.2f kPa a turn is kept, the card has %.2f", kept, card)
			}
			b.stand(st, 5)
			k := &st.advisor.screws[2]
			if !k.DirectionKnown() || k.LogSize != fresh.LogSize || k.Variance < fresh.Variance {
				t.Errorf("then %.2f kPa a turn, direction known %v", k.Size(), k.DirectionKnown())
			}
			b.draw[0], b.draw[1], b.effect[2], ill = 23.4, 23.4, 4, false
			most := 0.0 // of what is to go, that was told at once
			for k := range 400 {
				if a = step(); k == 20 {
					st.GoOn() // it was looked for
				}
				if gap := b.draw[2] - b.draw[1]; a.ToTurn(advice.SyncScrew) && a.Turns > 0 && gap > 1 {
					most = max(most, a.SignedTurns()*4/gap)
				}
			}
			if most > 1.1 || math.Abs(b.draw[2]-b.draw[1]) > 0.5 {
				t.Errorf("%.2f of the way was told at once, which ends at %.2f kPa", most, b.draw)
			}
		})
	}
}
