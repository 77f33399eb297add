package settings

import (
	"testing"
	"time"

	"evendraw/internal/invented"
	"evendraw/internal/practice"
)

// The only bike there is is in use, also where the one used last was taken away; of several none is, nor one of a
// practice, but where practices count and are alone.
func TestTheOnlyBikeIsInUse(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 3, 1, 10, 0, 0, 0, time.Local)
	older, newer := practice.CardName(at, "four"), practice.CardName(at.Add(time.Hour), "a twin")
	for _, c := range []struct {
		name  string
		bikes []string
		last  string
		want  string
		any   string // where practices count
	}{
		{"none", nil, "", "", ""},
		{"the only one", []string{"four"}, "", "four", "four"},
		{"one of two", []string{"four", "twin"}, "", "", ""},
		{"the one used last", []string{"four", "twin"}, "twin", "twin", "twin"},
		{"one that is left", []string{"four"}, "gone", "four", "four"},
		{"a practice", []string{older}, "", "", older},
		{"two practices", []string{newer, older}, "", "", newer},
		{"a practice beside a bike", []string{older, "four"}, "", "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			g := invented.Garage(t, t.TempDir())
			for _, name := range c.bikes {
				invented.Bike(t, g, name, 4)
			}
			if c.last != "" {
				if err := g.SetLastBike(c.last); err != nil {
					t.Fatal(err)
				}
			}
			if got, _ := InUse(g, false); got != c.want {
				t.Errorf("%q, want %q", got, c.want)
			}
			got, several := InUse(g, true)
			if got != c.any || several != (got != "" && got != c.last && len(c.bikes) > 1) {
				t.Errorf("of any %q, several %v, want %q", got, several, c.any)
			}
		})
	}
}
