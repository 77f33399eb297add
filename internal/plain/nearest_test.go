package plain

import "testing"

func TestNearest(t *testing.T) {
	t.Parallel()
	flags := []string{"--practice", "--port", "--page", "--for", "--at", "new"}
	for word, want := range map[string]string{"--practise": "--practice", "--prot": "--port", "--Port": "--port",
		"--pratice": "--practice", "--colour": "", "--fro": "--for", "--prac": "--practice", "": "",
		"x": "", "nwe": "new", "tice": "--practice", "ice": "",
		"--page-now": "--page"} {
		if got := Nearest(word, flags); got != want {
			t.Errorf("%q: %q, want %q", word, got, want)
		}
	}
	// The usual example, and one whose neighbours change places.
	for pair, want := range map[[2]string]int{{"kitten", "sitting"}: 3, {"nwe", "new"}: 1, {"", "ab"}: 2} {
		if d := slips(pair[0], pair[1]); d != want {
			t.Errorf("%v: %d slips, want %d", pair, d, want)
		}
	}
}
