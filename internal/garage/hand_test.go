package garage

import (
	"strings"
	"testing"
)

// A hand is written to a card that knew none, and renewed; the rest of the card stays.
func TestSaveHand(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	path := writeCard(t, g, "x", handEdited)
	bikes, damaged := g.ListBikes()
	if len(bikes) != 1 {
		t.Fatal(damaged)
	}
	for _, h := range []struct{ late, runOn, wantLate, wantRunOn float64 }{{1.614, 0.081, 1.61, 0.08},
		{1.612, 0.079, 1.61, 0.08}, {99, -0.004, maxHandLate, 0}} {
		if err := g.SaveHand(bikes[0].Name, h.late, h.runOn); err != nil {
			t.Fatal(err)
		}
		b, err := g.LoadBike(bikes[0].Name)
		if err != nil || b.HandLateS != h.wantLate || b.HandRunOnTurns != h.wantRunOn {
			t.Errorf("%v: %v and %v, %v", h, b.HandLateS, b.HandRunOnTurns, err)
		}
	}
	kept := strings.NewReplacer("hand_late_s = 5\n", "", "hand_run_on_turns = 0\n", "").Replace(readText(t, path))
	if kept != handEdited {
		t.Errorf("the rest of the card became\n%s", kept)
	}
}
