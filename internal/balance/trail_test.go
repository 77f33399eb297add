package balance

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/advice"
)

// A lumpy idle has the speed move before a turn is seen: what was told in a row and made each time counts together,
// so that no screw is turned the wrong way on and on.
func TestTriesInARowCountTogether(t *testing.T) {
	const banks = 120
	level, tries, grew := 0, 0, 0
	for seed := range uint64(banks) {
		b := newBench(3, seed)
		b.scatter, b.upset = 0.5, 8
		start, worst := b.spread(), 0.0
		h := wordHand{rng: rand.New(rand.NewPCG(seed, 3)), due: math.Inf(1)}
		st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		var last advice.Advice
		for b.time < 300 && last.Kind != advice.Done && b.spread() < 40 {
			if b.upsets == 0 && b.rng.IntN(20) == 0 {
				b.upsets = 8
			}
			s := b.span()
			a := st.Push(&s).Advice
			if a.Why == advice.WhyTry && last.Why != advice.WhyTry {
				tries++
			}
			worst = max(worst, b.spread())
			last = a
			h.follow(b, st, &a)
		}
		if last.Kind == advice.Done && b.spread() < 0.7 {
			level++
		}
		if worst > start+3 {
			grew++
		}
	}
	t.Logf("%d triples on a lumpy idle: %d level; %d tries; the spread grew by 3 kPa in %d", banks, level, tries, grew)
	if level < banks*17/20 || tries > 10*banks || grew > banks/12 {
		t.Error("too few, or too many")
	}
}

// A screw that does nothing is told to stop at on a lumpy idle as on another, however often the idle comes between: the
// hand makes what stands once more after 6 s, and so 1.4 turns where no speed ever moves.
func TestADeadScrewOnALumpyIdle(t *testing.T) {
	const banks, mostTurned = 40, 1.75 // Measured: 1.54
	said := 0
	for seed := range uint64(banks) {
		b := newBench(3, seed)
		b.scatter = 0.3
		clear(b.effect)
		st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		h := wordHand{rng: rand.New(rand.NewPCG(seed, 3)), due: math.Inf(1)}
		var a advice.Advice
		turned := 0.0
		for b.time < 200 && a.Why != advice.WhyNoAnswer {
			if b.upsets == 0 && b.rng.IntN(20) == 0 {
				b.upsets = 8
			}
			s := b.span()
			a = st.Push(&s).Advice
			left := h.left
			h.follow(b, st, &a)
			turned += max(left-h.left, 0)
		}
		if a.Why == advice.WhyNoAnswer {
			said++
		}
		if turned > mostTurned {
			t.Errorf("seed %d: %.2f turns made in vain", seed, turned)
		}
	}
	t.Logf("said of %d of %d", said, banks)
	if said < banks*9/10 {
		t.Error("too seldom")
	}
}

// A screw whose way is not known, and of which nothing was seen in one way, is tried the other way after the key: what
// was made unseen is undone then, not made twice.
func TestTheOtherWayIsTriedAfterTheKey(t *testing.T) {
	b := newBench(2, 24)
	b.scatter, b.draw[0], b.draw[1] = 0.03, 22, 27
	clear(b.effect)
	st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
	var ways []advice.Direction
	for range 3 {
		ways = append(ways, silentHand(t, b, st).Advice.Direction)
		st.GoOn()
	}
	if ways[0] != advice.Clockwise || ways[1] != advice.Anticlockwise || ways[2] != advice.Clockwise {
		t.Errorf("tried %s", ways)
	}
}
