package mixture

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/effort"
)

// A turn that was confirmed though it was forgotten, or made by half, can be corrected when the next is told already:
// the look behind it counts for where the screw truly stood, and where it was not made at all it is told again.
func TestATurnSaidToBeMadeIsCorrectedWhileTheNextIsTold(t *testing.T) {
	for _, c := range []struct {
		name  string
		share float64 // of the turn that was made
		turn  int     // which
	}{{"forgotten, the first", 0, 0}, {"forgotten, the second", 0, 1}, {"by half", 0.5, 1},
		{"the other way", -0.25, 0}} {
		t.Run(c.name, func(t *testing.T) {
			for seed := range uint64(effort.Of(2, 6)) {
				h := newHanded(seed, handedOut)
				for turn := 0; h.told(); turn++ {
					cylinder, goal, was := h.st.Cylinder-1, h.st.Goal, h.st.Pilots[h.st.Cylinder-1]
					h.make(t, turn != c.turn)
					if turn != c.turn {
						h.wait(0.2, nil)
						continue
					}
					by := goal - was.Moved
					h.moved[cylinder] += c.share * by
					h.wait(0.2, nil)
					if !h.told() || h.st.Cylinder != cylinder+1 || h.st.Said.Out != by || h.st.Last.Out == by {
						t.Fatalf("seed %d: said %+v, told %+v", seed, h.st.Said, h.st.Last)
					}
					h.wait(3, nil)
					if n := h.st.Said.Number; h.trim.PastSeat(n, c.share*math.Abs(by)) || // a slip in what is said
						h.trim.PastSeat(n, 4) != (by < 0) || h.trim.PastSeat(n, -4) != (by > 0) {
						t.Errorf("seed %d: %+.3f past the seat or not, from %+v", seed, by, was)
					}
					if !h.trim.CorrectTurn(h.st.Said.Number, c.share*math.Abs(by)) {
						t.Fatal("nothing to correct")
					}
					h.wait(0.2, nil)
					if p := &h.st.Pilots[cylinder]; math.Abs(p.Moved-h.moved[cylinder]) > 1e-9 || p.Doubt > was.Doubt ||
						c.share == 0 && (h.st.Goal != goal || !h.st.Advice.ToTurn(advice.PilotScrew)) {
						t.Fatalf("seed %d: %+v stands %+.3f; to %+.3f, %+v", seed, p, h.moved[cylinder], h.st.Goal,
							h.st.Advice)
					}
					if h.trim.CorrectTurn(99, 0) {
						t.Error("a turn that was never told is corrected")
					}
				}
				for i, p := range h.st.Pilots[:4] {
					if p.Found == ToSet && c.share < 0 { // so much further out, no speed bears out the way there
						continue
					}
					if p.Found != AtPeak && p.Found != Unsure || math.Abs(p.Moved-h.moved[i]) > 1e-9 ||
						math.Abs(h.moved[i]-h.best[i]) > max(0.2, p.Uncertainty) {
						t.Errorf("seed %d: %+v, stands %+.3f, best %+.3f", seed, p, h.moved[i], h.best[i])
					}
				}
			}
		})
	}
}

// Where a turn was seen not to be made as said, its screw is trimmed anew from where it stands, and that is told: no
// amount of that turn is taken then, as nothing counts on it any more.
func TestATurnFoundOutIsNotCorrected(t *testing.T) {
	found := 0
	for seed := range uint64(8) {
		h := newHanded(seed, handedOut)
		for turn := 0; turn < 12 && h.told(); turn++ {
			by := h.st.Goal - h.st.Pilots[h.st.Cylinder-1].Moved
			c := h.st.Cylinder - 1
			if h.make(t, turn != 1); turn == 1 { // the other way
				h.moved[c] -= by
			}
			h.wait(0.5, nil)
			if h.wait(60, func() bool { return h.st.Anew || h.st.Advice.ToTurn(advice.PilotScrew) }); h.st.Anew {
				break
			}
		}
		if !h.st.Anew {
			continue
		}
		if found++; h.trim.CorrectTurn(TurnSaid, 0) || h.trim.CorrectTurn(TurnTold, 0.5) {
			t.Errorf("seed %d: a turn that was found out is corrected", seed)
		}
		for range 200 {
			if h.wait(0.2, nil); h.st.Advice.ToTurn(advice.PilotScrew) {
				break
			}
		}
		if h.st.Anew || !h.st.Advice.ToTurn(advice.PilotScrew) {
			t.Errorf("seed %d: then %+v", seed, h.st.Advice)
		}
	}
	if found == 0 {
		t.Error("no turn the other way was found out")
	}
}
