package trial

import (
	"context"
	"math"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/effort"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// What is kept of a screw's effect lies within the factor that is kept with it, also where quick screws are turned by
// a hand that is half as quick as usual, so that amounts seem to be made twice.
func TestKeptEffectsHold(t *testing.T) {
	with, err := chosenConditions([]string{"quick-screws"})
	if err != nil {
		t.Fatal(err)
	}
	slow := *hands["normal"]
	slow.SlowTurnsS, slow.AmountTurnsS = slow.SlowTurnsS/2, slow.AmountTurnsS/2
	bikes := effort.Of(4, 40)
	held := make([][2]int, bikes)
	spread(context.Background(), bikes, 0, nil, func(n int) {
		k := newBike(chosen("paired four"), with, 12, n)
		k.habits = &slow
		b, bank := newBench(k), k.config.Bank
		var last *balance.Reading
		c := session.NewChain(session.Config{Bank: &bank, Ambient: pressure.StandardAtmosphere(0)},
			func(r *balance.Reading) { last = r })
		w := &watch{engine: b.engine, moves: b.hand.Busy, chain: c}
		c.Keys, b.feed = true, c.Feed
		followAdvice(b, c, w, &last)
		factors := c.EffectFactors()
		for s, e := range c.Effects() {
			if e == 0 {
				continue
			}
			held[n][1]++
			if off := e / float64(b.engine.Truth().ScrewEffect[s]); off > 0 && math.Abs(math.Log(off)) <=
				math.Log(factors[s]) {
				held[n][0]++
			}
		}
	})
	in, of := 0, 0
	for _, h := range held {
		in, of = in+h[0], of+h[1]
	}
	t.Logf("%d of %d hold", in, of)
	const held95 = 0.92 // 95 %, less what counting scatters by
	if of < 3*bikes/2 || float64(in) < held95*float64(of)-effort.Of(1.0, 0) {
		t.Error("what is kept does not hold")
	}
}
