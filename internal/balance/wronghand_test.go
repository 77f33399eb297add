package balance

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/effort"
	"evendraw/internal/linkage"
)

// wordHand does what the large word says, some time after it has read it, and again where the same stands for againS.
// It may turn another way than it was told.
type wordHand struct {
	slip   float64 // share of movements that go the other way
	always float64 // the way that it turns whatever it is told; 0 is as told
	mirror bool    // it takes clockwise for anticlockwise
	least  float64 // turns that each amount is off by at most, either way
	hasty  float64 // share of amounts that it makes twice as far
	more   float64 // share of amounts that it makes once more before it looks up again
	eager  bool    // it goes on where the word that it has done still stands, and on until it has heard another
	blind  bool    // it makes an amount again each time that it looks up and sees it stand, whatever stands beside it
	deaf   bool    // it turns until it is told to stop, whatever amount it is told
	press  float64 // seconds between eighths, each made at once, as by a key; 0 turns at its pace
	late   float64 // seconds more that it needs to begin
	takes  bool    // told that it got worse, it takes back a slip, and no more
	part   float64 // the share of an amount that it makes; 0 is all of it
	dwell  float64 // seconds more until it says by the key that a nut is tight

	rng     *rand.Rand
	heard   advice.Advice
	slipped bool    // in its last movement
	again   bool    // it makes the amount once more
	due     float64 // when it acts on what it heard
	made    float64 // when it last moved, or heard
	screw   int
	left    float64 // turns still to make
	way     float64
	turned  float64 // in the last movement, clockwise positive
	before  float64 // what was truly wanted of the screw then
	worse   int     // movements that way, one after the other, that made it worse
}

// againS is how long a word has stood, s, until the hand does it once more; blindS that of a blind hand. Chosen.
const againS, blindS = 6.0, 0.6

// wanted is what is truly wanted of a screw.
func (b *bench) wanted(s int, l *linkage.Linkage) float64 {
	var draw perCylinder
	copy(draw[:], b.draw)
	x := l.Wanted(&draw)
	return x[s]
}

// misleads reports whether a word sends the hand the way that has just made it worse twice running.
func (h *wordHand) misleads(b *bench, l *linkage.Linkage, a *advice.Advice) bool {
	if a.Direction == advice.UnknownWay || h.turned == 0 || a.Screw != h.screw || h.left > 0 {
		return false
	}
	way := a.Direction.Sign()
	if h.mirror {
		way = -way
	}
	return h.madeWorse(b, l) && way*h.turned > 0 && h.worse > 0
}

// madeWorse reports whether the last movement led away from level.
func (h *wordHand) madeWorse(b *bench, l *linkage.Linkage) bool {
	x := b.wanted(h.screw, l)
	return math.Abs(x) > math.Abs(h.before)+0.1 && x*h.before > 0
}

// turnOf returns which way a screw is to be turned, and how far, by a hand whose last movement was so many turns, both
// clockwise positive; without end where it is to turn until told to stop.
func turnOf(a *advice.Advice, last float64) (way, amount float64) {
	way, amount = a.Direction.Sign(), a.Turns
	if a.Direction == advice.UnknownWay {
		if way = math.Copysign(1, last); a.Kind == advice.Reverse {
			way = -way
		}
		if math.IsNaN(amount) {
			amount = math.Abs(last)
		}
	}
	if math.IsNaN(amount) {
		amount = math.Inf(1)
	}
	return way, amount
}

// begin begins what was heard.
func (h *wordHand) begin(b *bench, st *Balance) {
	a := &h.heard
	if h.deaf { // another word than to turn ends a turn, too
		h.left = 0
	}
	switch {
	case a.Why == advice.WhyBlip:
		b.blipIt()
		return
	case a.Why == advice.WhyNuts || a.Why == advice.WhyNoAnswer || a.Kind == advice.Fault ||
		a.Why == advice.WhyOtherScrew:
		st.GoOn()
		return
	case !a.ToTurn(advice.SyncScrew):
		h.left = 0
		return
	}
	way, amount := turnOf(a, h.turned)
	if h.mirror && a.Direction != advice.UnknownWay {
		way = -way
	}
	slipped := h.slipped
	if h.slipped = h.rng.Float64() < h.slip; h.slipped {
		way = -way
	}
	if h.takes && slipped && a.Kind == advice.Reverse && h.turned != 0 {
		way, amount, h.slipped = -math.Copysign(1, h.turned), math.Abs(h.turned), false
	}
	if h.always != 0 {
		way = h.always
	}
	if h.worse++; !h.madeWorse(b, &st.win.link) || h.turned*way < 0 || h.screw != a.Screw {
		h.worse = 0
	}
	h.screw, h.left, h.way, h.turned = a.Screw, amount*(0.8+0.4*h.rng.Float64()), way, 0
	h.before = b.wanted(h.screw, &st.win.link)
	if h.hasty > 0 && h.rng.Float64() < h.hasty {
		h.left *= 2
	}
	if h.least > 0 {
		h.left = max(h.left+h.least*(2*h.rng.Float64()-1), 0.002)
	}
	if h.part > 0 {
		h.left *= h.part
	}
	if h.deaf {
		h.left = math.Inf(1)
	}
	h.again = h.rng.Float64() < h.more
}

// follow lets the hand act for one cycle of a bench on what it is told.
func (h *wordHand) follow(b *bench, st *Balance, a *advice.Advice) {
	const pace, react = 0.125, 0.5
	turn := a.ToTurn(advice.SyncScrew)
	goesOn := turn && a.Screw == h.heard.Screw && a.Why == advice.WhyKeepOn &&
		(a.Direction == h.heard.Direction || a.Direction == advice.UnknownWay)
	if h.heard.Same(a) || goesOn {
		again := againS + 2*h.late
		switch {
		case h.blind:
			again = blindS
		case a.Why == advice.WhyNuts:
			again += h.dwell
		case h.eager && a.Why == advice.WhyTry:
			again = 0.3
		}
		if b.time > h.made+again && h.left == 0 && (!goesOn || h.blind) {
			h.made, h.due = b.time, b.time
		}
	} else {
		h.heard, h.due, h.made = *a, b.time+react, b.time
		if turn {
			h.due += h.late
		}
		if a.Why == advice.WhyNuts {
			h.due += h.dwell
		}
		if h.eager {
			h.due += 0.4 * h.rng.Float64()
		}
		if turn && a.Screw != h.screw {
			h.due += 2 // to reach it
		}
	}
	if b.time >= h.due {
		h.due = math.Inf(1)
		h.begin(b, st)
	}
	step := min(h.left, pace*0.115)
	if h.press > 0 {
		step = min(h.left, 0.125)
	}
	if step <= 0 || h.press > 0 && b.time < h.made+h.press {
		return
	}
	h.made = b.time
	h.turned += step * h.way
	b.turn(h.screw, step*h.way)
	if h.left -= step; h.left < 1e-9 && h.again && h.heard.Turns > 0 {
		h.again, h.left = false, h.heard.Turns
	}
}

// wrongHands are hands that do otherwise than they are told.
var wrongHands = map[string]wordHand{"obeys": {}, "slips": {slip: 1.0 / 8}, "always clockwise": {always: 1},
	"mirror": {mirror: true}, "once more": {more: 1.0 / 4},
	"takes back": {slip: 1.0 / 4, takes: true}, "eager": {eager: true}, "until stop": {deaf: true},
	"by keys": {press: 0.5}, "by keys, slips": {press: 0.5, slip: 1.0 / 8},
	"late, slips": {late: 10, slip: 1.0 / 8}}

// However a hand turns, the large letters never send it twice running the way that has just made it worse.
func TestNoHandIsSentTwiceTheWayThatMadeItWorse(t *testing.T) {
	banks := effort.Of(20, 200)
	for _, name := range []string{"obeys", "slips", "always clockwise", "mirror", "once more", "takes back", "eager",
		"until stop", "by keys", "by keys, slips", "late, slips"} {
		level, misled, backs := 0, 0, 0
		var times []float64
		for seed := range uint64(banks) {
			b := newBench(4, seed)
			b.scatter = 0.04
			h := wrongHands[name]
			h.rng, h.due = rand.New(rand.NewPCG(seed, 3)), math.Inf(1)
			st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
			var last advice.Advice
			done := false
			for b.time < 400+40*h.late && !done && b.spread() < 30 { // the engine would stall
				s := b.span()
				a := st.Push(&s).Advice
				done = a.Kind == advice.Done
				goesOn := a.Why == advice.WhyKeepOn || a.Why == advice.WhySlower
				if a.ToTurn(advice.SyncScrew) && !a.Same(&last) && !goesOn {
					if h.misleads(b, &st.win.link, &a) {
						misled++
					}
				}
				if a.Why == advice.WhyTurnBack && !a.Same(&last) {
					backs++
				}
				all := last.Why == advice.WhyTurnBack && math.IsNaN(last.Turns)
				if all && goesOn && !math.IsNaN(a.Turns) {
					t.Errorf("%s: told to turn all back, and meanwhile %v turns", name, a.Turns)
				}
				last = a
				h.follow(b, st, &a)
			}
			if done && b.spread() <= 0.7 {
				level++
			}
			times = append(times, b.time)
		}
		slices.Sort(times)
		t.Logf("%s: level %d of %d, %.0f s (median), %.0f s (90 %%); sent %d times the way that had made it worse "+
			"twice, %d times to turn back", name, level, banks, times[banks/2], times[banks*9/10], misled, backs)
		if misled > 1+banks/200 { // three slips of four, at one screw
			t.Errorf("%s: misled %d times", name, misled)
		}
		if name == "eager" && backs > 3+banks/50 { // the rest of a turn is no turn the other way
			t.Errorf("%s: told to turn back %d times", name, backs)
		}
		if least := banks * 19 / 20; level < least && name != "always clockwise" {
			t.Errorf("%s: only %d of %d level", name, level, banks)
		}
		if most := 120.0; name == "until stop" && times[banks*9/10] > most {
			t.Errorf("%s: %.0f s for nine in ten", name, times[banks*9/10])
		}
	}
}

// A hasty hand, which turns three amounts of ten twice as far, does not have a screw taken for quicker than it is:
// seldom are three small amounts told in a row.
func TestAHastyHandIsNotToldHairs(t *testing.T) {
	const banks, small, inRow = 100, 1.0 / 8, 3
	rows, amounts := 0, 0
	for seed := range uint64(banks) {
		b := newBench(4, seed)
		b.scatter = 0.05
		for s := range b.effect {
			b.effect[s] = math.Copysign(2+b.rng.Float64(), b.effect[s])
		}
		h := wordHand{hasty: 0.3, rng: rand.New(rand.NewPCG(seed, 3)), due: math.Inf(1)}
		st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		var last advice.Advice
		for row, screw := 0, 0; b.time < 300 && last.Kind != advice.Done; {
			s := b.span()
			a := st.Push(&s).Advice
			amount := a.ToTurn(advice.SyncScrew) && !math.IsNaN(a.Turns) && a.Why != advice.WhyTry
			if amount && !a.Same(&last) && a.Why != advice.WhyKeepOn {
				if row++; a.Turns > small || a.Screw != screw {
					row = 0
				}
				if screw, amounts = a.Screw, amounts+1; row == inRow {
					rows++
				}
			}
			last = a
			h.follow(b, st, &a)
		}
	}
	if t.Logf("%d amounts on %d banks, %d times %d small ones in a row", amounts, banks, rows, inRow); rows > banks/8 {
		t.Error("too often")
	}
}

// A hand that makes an amount again and again while it stands, so that its rests don't show where the draws scatter, is
// told another word soon after it has gone past level.
func TestAHandThatMakesAnAmountAgainIsStopped(t *testing.T) {
	const banks, off, longest = 60, 0.7, 3.5 // kPa, s
	late := 0
	for seed := range uint64(banks) {
		b := newBench(4, seed)
		b.scatter = 0.1 + 0.15*b.rng.Float64()
		for s := range b.effect {
			b.effect[s] = math.Copysign(3+4*b.rng.Float64(), b.effect[s])
		}
		h := wordHand{blind: true, rng: rand.New(rand.NewPCG(seed, 3)), due: math.Inf(1)}
		st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		since, most := 0.0, 0.0
		for a := (advice.Advice{}); b.time < 200 && a.Kind != advice.Done; h.follow(b, st, &a) {
			s := b.span()
			a = st.Push(&s).Advice
			x := b.wanted(max(a.Screw, 0), &st.win.link)
			leads := a.Kind == advice.Turn && a.Why == advice.WhyKeepOn && a.Direction != advice.UnknownWay &&
				a.Direction.Sign()*b.effect[a.Screw]*x < 0 && math.Abs(x) > off
			if !leads {
				since = b.time
			}
			most = max(most, b.time-since)
		}
		if most > longest {
			late++
		}
	}
	if t.Logf("in %d of %d banks a word led away for more than %g s", late, banks, longest); late > 0 {
		t.Error("too long")
	}
}
