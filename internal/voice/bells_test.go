package voice

import (
	"testing"

	"evendraw/internal/view"
)

// rung counts the rings in so many ticks of the screen; none follows another at once.
func rung(t *testing.T, b *Bells, w view.Words, ticks int) (n int) {
	t.Helper()
	last := false
	for range ticks {
		ring := b.Due(&w)
		if ring {
			n++
		}
		if ring && last {
			t.Error("two rings in a row")
		}
		last = ring
	}
	return n
}

func TestBells(t *testing.T) {
	t.Parallel()
	named, slower := view.Words{Big: "2-3", Arrow: 1, Amount: "1/4"}, view.Words{Big: "SLOWER", Arrow: 1}
	less := named
	less.Amount = "1/8"
	wait, level := view.Words{Big: "WAIT"}, view.Words{Big: "LEVEL"}
	for _, c := range []struct {
		name         string
		before, then view.Words
		want         int
	}{
		{"named", wait, named, 1}, {"unchanged", named, named, 0}, {"less is left to turn", named, less, 0},
		{"slower", named, slower, 1}, {"stop", named, view.Words{Big: view.BigStop}, 2},
		{"other way", named, view.Words{Big: view.BigOtherWay, Arrow: -1}, 3},
		{"wrong screw", named, view.Words{Big: "TURN BACK"}, 3}, {"blip", wait, view.Words{Big: "BLIP"}, 1},
		{"fault", wait, view.Words{Big: "ENGINE OFF 2"}, 3}, {"level", wait, level, 4},
		{"level, in doubt", wait, view.Words{Big: "LEVEL?"}, 3}, {"waiting", level, wait, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := &Bells{}
			rung(t, b, c.before, 40)
			if got := rung(t, b, c.then, 40); got != c.want {
				t.Errorf("%d bells, want %d", got, c.want)
			}
		})
	}
}

// News break off what was ringing.
func TestBellsOfNews(t *testing.T) {
	t.Parallel()
	b := &Bells{}
	rung(t, b, view.Words{Big: "LEVEL"}, 2)
	if n := rung(t, b, view.Words{Big: view.BigStop}, 40); n != 2 {
		t.Errorf("stop after a level that was broken off rings %d times, want 2", n)
	}
}
