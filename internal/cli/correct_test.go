package cli

import (
	"strings"
	"testing"
)

// A bench card that is corrected stays, and says which one holds now; without numbers those are compared that hold.
// That a card was of the bank before it goes back can be said alone.
func TestABenchCardIsCorrected(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for _, args := range [][]string{{"bike", "new", "invented twin", "--cylinders", "2"},
		{"bench", "--pilot", "2, 2"}, {"bench", "--pilot", "1 7/8, 2"}, {"bench", "--corrects", "2", "--together"}} {
		if r := evendraw(t, dir, args...); r.status != 0 {
			t.Fatalf("%v: %+v", args, r)
		}
	}
	for _, c := range []struct{ args, want string }{
		{"bench show 2", "corrected by 3: that one holds now"}, {"bench list", "corrected by 3"},
		{"bench show 3", "as it goes back"}, {"bench compare", "carburettor 1: pilot screw 2 → 1 7/8 (1/8 in)"},
		{"bench compare", "from 1,"}, {"bench compare", "to   3,"},
	} {
		if r := evendraw(t, dir, strings.Fields(c.args)...); !strings.Contains(r.out, c.want) {
			t.Errorf("%s lacks %q: %s%s", c.args, c.want, r.out, r.err)
		}
	}
}

// A record of a named bike is shown in that bike's unit, whichever bike was used last.
func TestARecordIsShownInItsBikesUnit(t *testing.T) {
	t.Parallel()
	dir, _ := recordedGarage(t, 2)
	if r := evendraw(t, dir, "bike", "new", "other", "--cylinders", "2", "--unit", "inHg"); r.status != 0 {
		t.Fatal(r.err)
	}
	for _, args := range [][]string{{"compare", "Invented Four:1", "Invented Four:"}, {"compare", "Invented Four:"},
		{"history", "show", "Invented Four:1"}} {
		if r := evendraw(t, dir, append(args, "--bike", "other")...); !strings.Contains(r.out, "kPa") ||
			strings.Contains(r.out, "inHg") {
			t.Errorf("%v: %s%s", args, r.out, r.err)
		}
	}
}
