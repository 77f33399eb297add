package garage

import (
	"slices"
	"strings"
	"testing"
)

// However turns are written, and whatever parts them, they are the same.
func TestTurnsOutAreReadAsPeopleWriteThem(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text string
		n    int
		want []float64 // nil: refused
		says string
	}{
		{"2 1/4, 2.25, 2¼, 2,25", 4, []float64{2.25, 2.25, 2.25, 2.25}, ""},
		{"2,25; 2¼; 2.25; 2 1/4", 4, []float64{2.25, 2.25, 2.25, 2.25}, ""},
		{"2,25, 2, 2, 2,5", 4, []float64{2.25, 2, 2, 2.5}, ""},
		{"2.25,2,2,2.5", 4, []float64{2.25, 2, 2, 2.5}, ""},
		{"2,25", 4, []float64{2.25, 2.25, 2.25, 2.25}, ""},
		{"2,25", 2, []float64{2.25, 2.25}, ""}, // 25 turns are none
		{"1 ¾", 3, []float64{1.75, 1.75, 1.75}, ""},
		{"2, 5", 2, []float64{2, 5}, ""},
		{"2,5", 2, nil, "semicolon"},
		{"2,2", 4, nil, "sixteenth"},
		{"2, 2", 4, nil, "2 values for 4"},
		{"2,,2", 4, nil, "3 values for 4"},
		{"2,x,2", 4, nil, "2,x,2"},
		{"2 1/3", 4, nil, "2 1/3"},
		{"2; x; 2; 2", 4, nil, `"x"`},
		{"14,1,1,1", 4, nil, `"14" is not from 0 to 10`},
	} {
		got, err := ParseTurnsOut(c.text, c.n)
		if !slices.Equal(got, c.want) || (err == nil) != (c.want != nil) ||
			err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q for %d: %v, %v", c.text, c.n, got, err)
		}
	}
	if v, err := SplitValues("112,115", 2, nil); err != nil || !slices.Equal(v, []string{"112", "115"}) {
		t.Errorf("jets: %q, %v", v, err)
	}
	for text, want := range map[string]string{"112,5": "semicolon", "112,5; 115": "", "112,5, 112,5": "", "a,b": ""} {
		if v, err := SplitValues(text, 2, nil); (err == nil) != (want == "") || err == nil && len(v) != 2 ||
			err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("jets %q: %q, %v", text, v, err)
		}
	}
}
