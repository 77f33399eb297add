package practice

import (
	"strings"
	"testing"

	"evendraw/internal/view"
)

// The key that mends does so at rest alone, says what was wrong, and keeps it for the record.
func TestMendByHand(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]string{"leaking-boot": "you have fitted a new boot at cylinder 1",
		"perished-hose": "small hose at cylinder 3", "unseated-linkage": "you have seated it",
		"exchanged-hoses": "each is on its own port", "tired-cylinder": "no carburettor screw cures",
		"healthy-four": "are in order"} {
		p := New(Options{Name: name, Seed: 2, Running: true})
		if said := p.Do(view.Want{Kind: view.Mend}).(view.Told).Text; !strings.Contains(said, "Engine off first") ||
			p.Found() != "" {
			t.Errorf("%s, running: %q, found %q", name, said, p.Found())
		}
		p.Do(view.Want{Kind: view.StopEngine})
		said := p.Do(view.Want{Kind: view.Mend}).(view.Told).Text
		if kept := p.Found() != ""; !strings.Contains(said, want) || kept != (name != "healthy-four") {
			t.Errorf("%s: %q, found %q", name, said, p.Found())
		}
		once := p.Found()
		if p.Do(view.Want{Kind: view.Mend}); p.Found() != once {
			t.Errorf("%s: looked at twice, found %q", name, p.Found())
		}
	}
}

// Presses that come while the hand turns wait for it, up to a turn either way; one that is dropped is said to be.
func TestPressesAheadOfTheHand(t *testing.T) {
	t.Parallel()
	p := New(Options{Name: "healthy-four", Seed: 2})
	eighth := view.Want{Kind: view.TurnScrew, Turns: 1.0 / 8}
	for range mostPresses {
		if said := p.Do(eighth); said != nil {
			t.Errorf("within a turn: %v", said)
		}
	}
	if _, told := p.Do(eighth).(view.Told); !told {
		t.Error("a press too many is dropped without a word")
	}
	eighth.Turns = -eighth.Turns
	for range 2 * mostPresses {
		if said := p.Do(eighth); said != nil {
			t.Errorf("back: %v", said)
		}
	}
}
