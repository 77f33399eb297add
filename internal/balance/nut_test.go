package balance

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/effort"
)

// A hair that a lock nut has shifted its screw by is not put right while another screw is far off: the large error
// comes first. More than a hair is.
func TestAHairWaitsForTheLargeError(t *testing.T) {
	for shift, again := range map[float64]bool{0.45: false, 2.5: true} {
		b := newBench(4, 1)
		b.scatter, b.draw = 0.03, []float64{25, 30, 25, 28}
		for s := range b.bank.Screws {
			b.bank.Screws[s].EffectKPaPerTurn, b.effect[s] = 10, 10
		}
		bal := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		var r Reading
		for b.time < 120 && r.Advice.Why != advice.WhyNuts {
			r = b.run(bal, 1, true)
		}
		nut := r.Advice.ScrewName
		b.run(bal, 16, false)
		if nut != "1-2" {
			t.Fatalf("the nut of %q first", nut)
		}
		for _, c := range b.bank.Screws[r.Advice.Screw].Moves {
			b.draw[c-1] += math.Copysign(shift, b.draw[0]-25+1)
		}
		b.run(bal, 4, false)
		bal.GoOn()
		for b.time < 240 && !r.Advice.ToTurn(advice.SyncScrew) {
			r = b.run(bal, 1, false)
		}
		if (r.Advice.ScrewName == nut) != again {
			t.Errorf("shifted by %.2f kPa, by its nut %s: %s is named", shift, nut, r.Advice.ScrewName)
		}
	}
}

// With a lock nut stands which screw comes next, and which way: that is what is named once it is tight. With the last
// nut, and where another is hardly off, nothing stands: the nut may change that.
func TestTheNextScrewStandsWithTheNut(t *testing.T) {
	told := 0
	for seed := range uint64(12) {
		b := newBench(4, seed)
		b.scatter = 0.03
		bal := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
		var nut advice.Advice
		for b.time < 240 {
			r := b.run(bal, 1, true)
			a := r.Advice
			switch {
			case a.Why == advice.WhyNuts && !a.Same(&nut):
				if nut = a; nut.Next != "" {
					told++
				}
				if (nut.Next == "") != (nut.NextWay == advice.UnknownWay) || nut.Next == nut.ScrewName {
					t.Errorf("seed %d: %+v", seed, nut)
				}
			case a.Why == advice.WhyNuts && bal.advisor.check.nutTight == false && r.Time-bal.advisor.check.nutTime > 2:
				bal.GoOn()
			case a.ToTurn(advice.SyncScrew) && nut.Next != "":
				if a.ScrewName != nut.Next || a.Direction != nut.NextWay {
					t.Errorf("seed %d: next to %s was told %s %s, and then comes %s %s", seed, nut.ScrewName, nut.Next,
						nut.NextWay, a.ScrewName, a.Direction)
				}
				nut = advice.Advice{}
			case a.Why == advice.WhyBlip && nut.Next != "":
				t.Errorf("seed %d: a blip comes, not %s", seed, nut.Next)
			}
			if a.Kind == advice.Done {
				break
			}
		}
	}
	if told < 12 {
		t.Errorf("told %d times on 12 banks", told)
	}
}

// No lock nut is tightened whose screw is the next to be turned as the bank stands: one that moves nothing is not to be
// loosened again at once, whether a hand makes amounts by eighths, or in part, or once more, and however long it takes
// to the key.
func TestNoNutIsLoosenedAgainAtOnce(t *testing.T) {
	banks := effort.Of(16, 60)
	for name, hand := range map[string]wordHand{"eighths": {press: 1}, "eighths, once more": {press: 1, more: 1.0 / 3},
		"a quarter of it": {part: 1.0 / 4}, "once more": {more: 1.0 / 3}} {
		for _, scatter := range []float64{0.04, 0.3} {
			nuts, again, back, done := 0, 0, 0, 0
			for seed := range uint64(banks) {
				b := newBench(4, seed)
				b.scatter = scatter
				h := hand
				h.dwell, h.rng, h.due = 14, rand.New(rand.NewPCG(seed, 3)), math.Inf(1)
				st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
				var last, nut advice.Advice
				for b.time < 400 && last.Kind != advice.Done {
					s := b.span()
					a := st.Push(&s).Advice
					switch {
					case a.Why == advice.WhyNuts:
						nut = a
					case a.ToTurn(advice.SyncScrew) && nut.Why == advice.WhyNuts:
						open := st.advisor.openNuts()>>nut.Screw&1 == 1
						switch nuts++; {
						case a.Screw == nut.Screw && !open: // the key has said that it is tight
							again++
						case a.Screw == nut.Screw:
							back++
						}
						nut = advice.Advice{}
					case a.Why == advice.WhyBlip:
						nut = advice.Advice{}
					}
					last = a
					h.follow(b, st, &a)
				}
				if last.Kind == advice.Done {
					done++
				}
			}
			t.Logf("%s, scatter %v: of %d nuts before another screw %d were loosened again, %d taken back; %d of %d "+
				"level", name, scatter, nuts, again, back, done, banks)
			most := 1 + nuts/20
			if scatter > 0.2 { // a hand that goes on is not told from the idle there, and the nut waits for the key
				most = 1 + nuts/8
			}
			if again > most {
				t.Error("too often")
			}
			if least := banks * 19 / 20; done < least && hand.part == 0 {
				t.Errorf("%d of %d level", done, banks)
			}
		}
	}
}

// A hand that is full presses no key, and its nuts move nothing: the bank comes to be level all the same, and of no nut
// it was said that it is tight. One that is 15 s late with its key has said so of each.
func TestAHandThatIsFull(t *testing.T) {
	for _, dwell := range []float64{15, math.Inf(1)} {
		for seed := range uint64(6) {
			b := newBench(4, seed)
			b.scatter = 0.04
			h := wordHand{dwell: dwell, rng: rand.New(rand.NewPCG(seed, 3)), due: math.Inf(1)}
			st := New(Config{Bank: b.bank, Ambient: 101.3, Keys: true})
			var r Reading
			turned := uint(0)
			for b.time < 300 && r.Advice.Kind != advice.Done {
				s := b.span()
				r = st.Push(&s)
				turned |= st.advisor.check.moved
				h.follow(b, st, &r.Advice)
			}
			want := uint(0)
			if math.IsInf(dwell, 1) {
				want = turned
			}
			if r.Advice.Kind != advice.Done || r.NutsUnsaid != want || b.spread() > 0.7 {
				t.Errorf("seed %d, %v s late: %s %s after %.0f s, nuts not said %03b of %03b, %.2f kPa apart", seed,
					dwell, r.Advice.Kind, r.Advice.Why, b.time, r.NutsUnsaid, turned, b.spread())
			}
		}
	}
}

// Where there is a key for it, no nut counts as tight because time has passed before keylessSeconds, nor in a blip;
// then it does, and that nobody has said so is known.
func TestANutIsWaitedFor(t *testing.T) {
	for _, said := range []bool{true, false} {
		b, bal := levelTwin(t)
		bal.advisor.keys = true
		asked := b.time
		if r := b.run(bal, 60, false); r.Advice.Why != advice.WhyNuts {
			t.Fatalf("%+v, though nobody has tightened the nut", r.Advice)
		}
		b.blip = 16
		for b.time < asked+keylessSeconds-1 {
			if r := b.run(bal, 1, false); r.Advice.Why != advice.WhyNuts {
				t.Fatalf("%+v after %.0f s and a blip, the nut loose", r.Advice, b.time-asked)
			}
		}
		if said {
			bal.GoOn()
		}
		if r := b.until(t, bal, advice.WhyBlip); (r.NutsUnsaid == 0) != said || b.time > asked+keylessSeconds+3 {
			t.Errorf("said %v: nuts not said %b, after %.0f s", said, r.NutsUnsaid, b.time-asked)
		}
	}
}
