package balance

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/learned"
)

// blindHand looks at the screen, and some time later makes what it has read there, an eighth of a turn at most,
// whatever has been told meanwhile; then it looks again. One of its movements goes the wrong way.
type blindHand struct {
	reach, pause float64 // s from the look to the movement, and from there to the next look
	slip         int     // the movement that goes the wrong way, from 1; a later one once the direction is sure
	due          float64 // of what is next: the movement, or a look
	left         float64 // turns still to make
	way          float64
	meant        float64 // which way it meant to turn
	last         float64 // turns made in the last movement, clockwise positive
	begun        int     // movements
}

// follow lets the hand act for one cycle of a bench.
func (h *blindHand) follow(b *bench, st *Balance, a *advice.Advice) {
	const pace, most = 0.5, 0.125
	switch {
	case b.time < h.due:
		return
	case h.left > 0:
		d := min(h.left, pace*0.115)
		h.last += d * h.way
		for _, c := range b.bank.Screws[0].Moves {
			b.draw[c-1] += d * h.way * b.effect[0]
		}
		if h.left -= d; h.left <= 0 {
			h.due = b.time + h.pause
		}
		return
	case a.ToTurn(advice.SyncScrew):
		h.begun++
		h.way, h.left = turnOf(a, h.last)
		if a.Direction == advice.UnknownWay && a.Kind == advice.Turn { // it doesn't know that it has slipped
			h.way = h.meant
		}
		h.left, h.last, h.meant = min(h.left, most), 0, h.way
		switch k := &st.advisor.screws[0]; {
		case h.begun != h.slip:
		case h.slip == 1 || k.DirectionKnown() && !k.SeenOnce():
			h.way = -h.way
		default:
			h.slip++
		}
	case a.Why == advice.WhyNuts || a.Why == advice.WhyNoAnswer || a.Kind == advice.Fault:
		st.GoOn()
	case a.Why == advice.WhyBlip:
		b.blip = 16
	}
	h.due = b.time + h.reach
}

// follows lets the hand follow the advice; it returns how often in a row, at most, what leads away was told after
// its slip, and whether the bank came to be level.
func (h *blindHand) follows(b *bench, st *Balance) (inRow int, done bool) {
	const seconds = 900
	moved := b.bank.Screws[0].Moves[0] - 1
	n, row := 0, 0
	for b.time < seconds && !done {
		s := b.span()
		r := st.Push(&s)
		h.follow(b, st, &r.Advice)
		done = r.Advice.Kind == advice.Done
		apart := b.draw[moved] - b.draw[1-moved]
		if h.begun == n { // what it was told counts by how the bank stood then
			continue
		}
		if n = h.begun; n <= h.slip || math.Abs(apart) < 0.5 {
			continue
		}
		if row++; h.way*b.effect[0]*apart < 0 {
			row = 0
		}
		inRow = max(inRow, row)
	}
	return inRow, done
}

// A hand that slips once, and else does what it reads, is not led on the wrong way: where the slip was its first
// movement seldom three times in a row, where the direction was seen five times before, never.
func TestASlipDoesNotLeadOn(t *testing.T) {
	for _, first := range []bool{true, false} {
		runs, thrice := 0, 0
		for _, reach := range []float64{1, 4, 10} {
			for seed := range uint64(3) {
				for _, effect := range []float64{3, -3, 6, -8} {
					b := newBench(2, seed)
					b.scatter, b.effect[0] = 0.04, effect
					h := &blindHand{reach: reach, pause: 1 + float64(seed), slip: 1}
					apart, most := 4.0, 3
					if !first {
						h.slip, apart, most = 6, 8, 0
					}
					b.draw[0], b.draw[1] = 25, 25+apart*float64(1-2*int(seed%2))
					n, done := h.follows(b, New(Config{Bank: b.bank, Ambient: 101.3, Keys: true}))
					if runs++; n == 3 {
						thrice++
					}
					if !done || n > most {
						t.Errorf("first %v, reach %g s, seed %d, %g kPa a turn: led away %d times, done %v", first,
							reach, seed, effect, n, done)
					}
				}
			}
		}
		if t.Logf("%d of %d three times", thrice, runs); thrice > runs/10 {
			t.Error("too many")
		}
	}
}

// A hand that turns the other way than it was told, at a screw whose direction was seen often enough, is told that it
// has gone the wrong way, and no other direction than before; the bank then comes right by amounts that count the
// play of the screw's way back.
func TestASlipIsToldToBeTurnedBack(t *testing.T) {
	slips := 0
	for seed := range uint64(12) {
		b := newBench(2, seed)
		effect := 5 + float64(seed%3)
		b.scatter, b.effect[0] = 0.04, effect
		b.draw[0], b.draw[1] = 25, 25+7*float64(1-2*int(seed%2))
		st := New(Config{Bank: b.bank, Ambient: 101.3})
		var told advice.Direction
		slipping, judged := false, false
		for b.time < 90 {
			s := b.span()
			a := st.Push(&s).Advice
			k := &st.advisor.screws[0]
			switch {
			case told == "" && st.advisor.phase == asking && math.Abs(k.Odds) > 1.5*learned.OnceOdds && a.Turns > 0.1:
				told, slipping, b.effect[0] = a.Direction, true, -effect
			case slipping && b.left == 0 && a.Why != advice.WhyUnlevel || a.Kind == advice.Stop:
				slipping, b.effect[0] = false, effect
			}
			if told != "" && !slipping && !judged && a.ToTurn(advice.SyncScrew) && a.Why != advice.WhyKeepOn {
				judged = true
				slips++
				if a.Kind != advice.Reverse || a.Why != advice.WhyAway || a.Direction != told {
					t.Errorf("seed %d: told %s, slipped, then told %s %s %s", seed, told, a.Kind, a.Why, a.Direction)
				}
				if k.LastWay != -told.Sign() {
					t.Errorf("seed %d: the screw counts as turned as told", seed)
				}
			}
			b.follow(a)
		}
	}
	if slips < 6 {
		t.Errorf("%d slips", slips)
	}
}

// A hand that slips at its first turn, of a screw that a card knows, has turned it further the wrong way once it has
// done as told. It is told to turn back, whichever was the slip; once that has helped, the way is named again, as the
// card and both movements tell it.
func TestTheWayIsNamedAfterTurningBack(t *testing.T) {
	named := 0
	for seed := range uint64(12) {
		b := newBench(2, seed)
		b.scatter, b.draw, b.effect[0] = 0.04, []float64{25, 30}, 4
		b.bank.Screws[0].EffectKPaPerTurn = 4
		st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		last, back := 0.0, false
		for turns := 0; turns < 4; turns++ {
			a := st.told
			for b.time < 60 && (!a.ToTurn(advice.SyncScrew) || a.Why == advice.WhyKeepOn) {
				a = b.run(st, 1, false).Advice
			}
			if back && a.Kind != advice.Reverse {
				if named++; a.Direction != advice.Anticlockwise || math.IsNaN(a.Turns) {
					t.Errorf("seed %d: after turning back %s %s %q %.3f", seed, a.Kind, a.Why, a.Direction, a.Turns)
				}
				break
			}
			back = a.Why == advice.WhyTurnBack
			way, amount := turnOf(&a, last)
			if turns == 0 {
				way = -way // a slip
			}
			amount = min(amount, 3.0/8)
			b.run(st, 10, false)
			for made := 0.0; made < amount; made += 0.015 {
				b.turn(0, way*0.015)
				b.run(st, 1, false)
			}
			last = way * amount
			for k := 0; k < 60 && st.told.Why != advice.WhyUnlevel; k++ {
				if a = b.run(st, 1, false).Advice; k > 8 && a.ToTurn(advice.SyncScrew) && a.Why != advice.WhyKeepOn {
					break
				}
			}
		}
	}
	if named < 10 {
		t.Errorf("%d ways looked at", named)
	}
}
