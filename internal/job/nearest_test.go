package job

import "testing"

func TestNearest(t *testing.T) {
	t.Parallel()
	flags := []string{"--practice", "--port", "--page", "--for", "--at"}
	for word, want := range map[string]string{"--practise": "--practice", "--prot": "--port", "--Port": "--port",
		"--pratice": "--practice", "--colour": "", "--fro": "--for", "--prac": "--practice", "": ""} {
		if got := Nearest(word, flags); got != want {
			t.Errorf("%q: %q, want %q", word, got, want)
		}
	}
	if d := slips("kitten", "sitting"); d != 3 { // the usual example
		t.Errorf("%d slips", d)
	}
}
