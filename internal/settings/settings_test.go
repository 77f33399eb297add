package settings

import (
	"testing"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/practice"
)

// The only bike there is is in use, also where the one used last was taken away; of several none is, nor one of a
// practice.
func TestTheOnlyBikeIsInUse(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		bikes []string
		last  string
		want  string
	}{
		{"none", nil, "", ""},
		{"the only one", []string{"four"}, "", "four"},
		{"one of two", []string{"four", "twin"}, "", ""},
		{"the one used last", []string{"four", "twin"}, "twin", "twin"},
		{"one that is left", []string{"four"}, "gone", "four"},
		{"a practice", []string{practice.CardName(time.Date(2026, 3, 1, 10, 0, 0, 0, time.Local), "four")}, "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			g, err := garage.Open(t.TempDir())
			if err != nil {
				t.Fatal(err)
			}
			for _, name := range c.bikes {
				bike := garage.DefaultBike(name, 4)
				if err := g.NewBike(&bike); err != nil {
					t.Fatal(err)
				}
			}
			if c.last != "" {
				if err := g.SetLastBike(c.last); err != nil {
					t.Fatal(err)
				}
			}
			if got, err := InUse(g); err != nil || got != c.want {
				t.Errorf("%q, %v, want %q", got, err, c.want)
			}
		})
	}
}
