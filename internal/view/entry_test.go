package view

import "testing"

// What the program offers gives way to what is typed, and can be taken or changed.
func TestOfferedTextGivesWay(t *testing.T) {
	t.Parallel()
	for keys, want := range map[string]string{"": "/home/rider/records", "/": "/", "⌫s": "/home/rider/records",
		"→2": "/home/rider/records2"} {
		v := Update(View{Page: PageStep}, NoRoom{Why: "full", Offer: "/home/rider/records"})
		v = Update(v, KeyPress{Key: "d"})
		for _, r := range keys {
			key := map[rune]string{'⌫': KeyBackspace, '→': KeyRight}[r]
			if key == "" {
				key = string(r)
			}
			v = Update(v, KeyPress{Key: key})
		}
		if v.Entry == nil || v.Entry.Text != want {
			t.Errorf("%q: %+v, want %q", keys, v.Entry, want)
		}
	}
}

// A folder is asked for until one takes the records: what is typed after a refusal is no command.
func TestFolderIsAskedUntilOneTakesThem(t *testing.T) {
	t.Parallel()
	for name, taken := range map[string]Event{"saved": SavedRecord{What: "1"}, "none owed": NoRoom{}} {
		v := press(Update(View{Now: now, Page: PageStep}, NoRoom{Why: "full"}), "d", "/", "x", KeyEnter)
		v = Update(v, NoRoom{Why: "not in /x either: it is full"})
		if v.Entry == nil || v.Entry.Text != "/x" {
			t.Fatalf("%s: the field is closed: %+v", name, v.Entry)
		}
		v = press(v, "/", "q", KeyEnter)
		if w := v.Wants; len(w) != 1 || w[0].Kind != UseFolder || w[0].Text != "/q" {
			t.Errorf("%s: %+v", name, v.Wants)
		}
		if v = Update(v, taken); v.Entry != nil {
			t.Errorf("%s: still asked for: %+v", name, v.Entry)
		}
	}
}
