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
