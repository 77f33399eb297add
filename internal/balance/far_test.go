package balance

import (
	"math"
	"testing"

	"evendraw/internal/advice"
)

// knownTwin returns a twin whose card tells its screw's effect, kPa a turn, and which cylinder, from 0, that moves: it
// draws less than the other, by off, kPa.
func knownTwin(effect, off float64) (b *bench, moves int) {
	b = newBench(2, 24)
	b.scatter = 0.03
	b.bank.Screws[0].EffectKPaPerTurn, b.effect[0] = effect, effect
	moves = b.bank.Screws[0].Moves[0] - 1
	b.draw[moves], b.draw[1-moves] = 25-off/2, 25+off/2
	return b, moves
}

// Whether a screw was turned far is asked once where nothing was found, though the screw was turned back meanwhile: it
// may go as far again. Further than before, and by as much as is far, it is asked anew.
func TestFarIsAskedOnceWhereNothingWasFound(t *testing.T) {
	const effect = 2.0 // kPa a turn
	for turns, want := range map[float64]int{3.5: 1, 6: 2} {
		off := turns * effect
		b, moves := knownTwin(effect, off)
		st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		start := b.draw[moves]
		hand := onceHand{due: math.Inf(1)}
		asked := 0
		var last advice.Advice
		for b.time < 400 && last.Kind != advice.Done {
			a := b.run(st, 1, false).Advice
			hand.follow(b, &a)
			if a.Why == advice.WhyFar && last.Why != advice.WhyFar {
				if asked++; asked == 1 { // the engine is stopped, the screw turned back, nothing found
					b.stand(st, 5)
					b.draw[moves] = start
					b.run(st, 60, false)
				}
				hand = onceHand{due: math.Inf(1)}
				st.GoOn()
			}
			if a.Why == advice.WhyNuts && !st.advisor.check.nutTight {
				st.GoOn()
			}
			last = a
		}
		if asked != want || last.Kind != advice.Done {
			t.Errorf("%g turns: asked %d times, want %d, then %+v", turns, asked, want, last)
		}
	}
}
