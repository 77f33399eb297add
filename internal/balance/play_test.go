package balance

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/pressure"
)

// Play in the linkage, which each blip brings out the other way, is not chased: the bank is taken as level, in doubt,
// after the second blip that moved it, and how far blips move it is told. Where blips move nothing none is told.
func TestPlayInTheLinkageIsNotChased(t *testing.T) {
	const banks = 60
	for _, play := range []pressure.KPa{0, 0.25, 0.45} {
		level, told, off, blips, worst := 0, 0, 0, 0, 0
		var time float64
		for seed := range uint64(banks) {
			b := newBench(4, seed)
			b.scatter, b.play = 0.05, float64(play)
			h := wordHand{rng: rand.New(rand.NewPCG(seed, 3)), due: math.Inf(1)}
			st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
			var r Reading
			asked := 0
			for last := (advice.Advice{}); b.time < 400 && r.Advice.Kind != advice.Done; last = r.Advice {
				s := b.span()
				if r = st.Push(&s); r.Advice.Why == advice.WhyBlip && last.Why != advice.WhyBlip {
					asked++
				}
				h.follow(b, st, &r.Advice)
			}
			blips, time, worst = blips+asked, time+b.time/banks, max(worst, asked)
			if r.Advice.Kind == advice.Done && b.spread() < 0.7+float64(play) {
				level++
			}
			if p := r.Halts.Play; p > 0 {
				told++
				if math.Abs(float64(p-play)) > 0.15 || !r.Halts.Doubt() {
					off++
				}
			}
		}
		t.Logf("play %.2f kPa: %d of %d level after %.0f s, %d blips, %d at most; told in %d, wrong in %d",
			float64(play), level, banks, time, blips, worst, told, off)
		if level < banks || off > 0 || play == 0 && told > 0 || play > 0.4 && told < banks/10 || worst > 3 {
			t.Error("chased, or told wrong")
		}
	}
}
