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
