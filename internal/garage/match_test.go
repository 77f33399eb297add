package garage

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"evendraw/internal/pressure"
)

func someMatch(n int) *MatchCard {
	return &MatchCard{
		Time: time.Date(2026, 4, n, 10, 0, 0, 0, time.UTC), AmbientKPa: 99.5, Gains: []float64{1.015, 0.985, 1,
			math.Round(1001+float64(n)) / 1000},
		UncertaintyGain: []float64{0.001, 0.001, 0, 0.002}, ResidualKPa: []pressure.KPa{0.01, 0.02, 0,
			0.03}, LevelKPa: 24.5,
		Sensors: []string{"KIND-A", "KIND-A", "KIND-B", "KIND-B"},
	}
}

// A match pass goes beside the zero pass and leaves it alone; the one before is kept.
func TestSaveMatch(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	b := DefaultBoard("S1")
	must(t, g.SaveZero(&b, someZero(1)))
	for n := 1; n <= 8; n++ {
		must(t, g.SaveMatch(&b, someMatch(n)))
	}
	must(t, g.SaveZero(&b, someZero(2)))
	got, err := g.LoadBoard("S1")
	must(t, err)
	if !reflect.DeepEqual(got.Match, someMatch(8)) || !reflect.DeepEqual(got.Zero, someZero(2)) {
		t.Errorf("got match %+v, zero %+v", got.Match, got.Zero)
	}
	if len(got.PreviousMatches) != keptPasses ||
		!reflect.DeepEqual(got.PreviousMatches[keptPasses-1], someMatch(7)) || len(got.PreviousZeros) != 1 {
		t.Errorf("previous: %d matches, %d zeroes", len(got.PreviousMatches), len(got.PreviousZeros))
	}
}

func TestBadMatches(t *testing.T) {
	t.Parallel()
	const head = "format = 1\nserial = 'B1'\n[match]\ntime = 2026-01-01T12:00:00Z\nambient_kpa = 100\n"
	const board = "format = 1\nserial = 'B1'\nhoses = "
	for name, c := range map[string]struct{ text, field string }{
		"a small gain":    {head + "gains = [1, 0.1]\n", "gains"},
		"a large gain":    {head + "gains = [1, 3]\n", "gains"},
		"no gains":        {head, "gains"},
		"another length":  {head + "gains = [1, 1]\nuncertainty_gain = [0]\n", "uncertainty_gain"},
		"a channel twice": {board + "[0, 0]", "hoses"},
		"no such channel": {board + "[8]", "hoses"},
		"below channel 0": {board + "[-1]", "hoses"},
	} {
		t.Run(name, func(t *testing.T) {
			if _, _, err := parseBoard("card", []byte(c.text)); err == nil || !strings.Contains(err.Error(), c.field) {
				t.Errorf("got %v, want a word on %s", err, c.field)
			}
		})
	}
}

// What setup learns goes on an edited card without disturbing it.
func TestSaveRig(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	path, err := g.BoardPath("H1")
	must(t, err)
	must(t, os.MkdirAll(filepath.Dir(path), 0o777))
	must(t, os.WriteFile(path, []byte(handEditedBoard), 0o666))
	b := Board{Serial: "H1", Sensors: []string{"KIND-A", "two-point 20kPa=0.79V 101.32kPa=4V"}, Hoses: []int{1, 0}}
	must(t, g.SaveRig(&b))
	want := strings.Replace(handEditedBoard, "lamp =", fmt.Sprintf("sensors = [%q, %q]\nhoses = [1, 0]\nlamp =",
		b.Sensors[0], b.Sensors[1]), 1)
	if got := readText(t, path); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	b.Hoses, b.Sensors = []int{0, 1}, nil
	must(t, g.SaveRig(&b))
	if got := readText(t, path); got != strings.Replace(want, "[1, 0]", "[0, 1]", 1) {
		t.Errorf("a second time: got\n%s", got)
	}
	fresh := Board{Serial: "H2", Hoses: []int{2, 0, 1}, WarmUpMin: 15}
	must(t, g.SaveRig(&fresh))
	if got, err := g.LoadBoard("H2"); err != nil || !reflect.DeepEqual(got.Hoses, fresh.Hoses) || got.WarmUpMin != 15 ||
		math.Abs(float64(got.SupplyMV)-5000) > 0 {
		t.Errorf("fresh: %+v, %v", got, err)
	}
}
