package garage

import (
	"errors"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"evendraw/internal/bank"
)

func TestTurns(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]float64{
		"2 1/4": 2.25, "2.25": 2.25, "2¼": 2.25, "2 ¼": 2.25, "2,25": 2.25, "2-1/4": 2.25, " 2  1/4 ": 2.25,
		"1/4": 0.25, "¼": 0.25, "⅞": 0.875, "2 2/8": 2.25,
		"2": 2, "0": 0, "2.125": 2.125, "2.12": 2.125, "2.13": 2.125, "2.5": 2.5, ".5": 0.5, "1 3/8": 1.375,
		"3⅜": 3.375, "2 1 /4": 2.25, "10": 10,
	} {
		t.Run(text, func(t *testing.T) {
			if got, err := ParseTurns(text); err != nil || got != want {
				if text == "2 1 /4" && err != nil {
					return // refused as well is right
				}
				t.Errorf("got %v, %v, want %v", got, err, want)
			}
		})
	}
	for text, want := range map[string]string{
		"": "write", "x": "write", "2 1/0": "write", "1/4 2": "write", "-1": "write", "2..5": "write", "nan": "write",
		"1e3": "write", "2 9/8": "write",
		"10 1/8": "from 0 to 10", "2.3": "2 1/4 or 2 5/16", "1/3": "5/16 or 3/8", "999": "from 0", "2 1/4 x": "write",
		"¼2": "write", "1/2/3": "write", "-1/4": "write", "-¼": "write", "--1/4": "write",
	} {
		t.Run(text, func(t *testing.T) {
			if got, err := ParseTurns(text); err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("got %v, %v, want an error with %q", got, err, want)
			}
		})
	}
	for turns, want := range map[float64]string{0: "0", 0.125: "1/8", 2.25: "2 1/4", 2: "2", 1.5: "1 1/2", 0.99: "1",
		2.3: "2 5/16", -0.5: "−1/2", math.NaN(): "–"} {
		t.Run(want, func(t *testing.T) {
			if got := FormatTurns(turns); got != want {
				t.Errorf("%v: got %q", turns, got)
			}
		})
	}
	for eighths := range MaxTurnsOut*turnsPart + 1 {
		v := float64(eighths) / turnsPart
		if got, err := ParseTurns(FormatTurns(v)); err != nil || got != v {
			t.Errorf("%v comes back as %v, %v", v, got, err)
		}
	}
}

func someSheet() BenchCard {
	b := bank.Default(4)
	s := NewBenchCard(&b, BenchApart)
	s.Program, s.Time, s.PilotScrews, s.Note = "0.1.0", time.Date(2026, 2, 1, 10, 0, 0, 0,
		time.UTC), FuelScrews, "bowls were green"
	for i := range s.Carburettors {
		c := &s.Carburettors[i]
		c.PilotTurnsOut, c.MainJet, c.NeedleClip, c.Gaskets = NullFloat(2+float64(i)/8), "112.5", 3, PartsRenewed
	}
	return s
}

func TestBenchSheetRoundTrip(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	b := DefaultBike("Invented Four", 4)
	must(t, g.NewBike(&b))
	s := someSheet()
	path, err := g.SaveBench("invented FOUR", &s)
	must(t, err)
	later := someSheet()
	later.Moment, later.Time = BenchTogether, s.Time.Add(time.Hour)
	_, err = g.SaveBench("Invented Four", &later)
	must(t, err)
	cards, damaged := g.ListBench("Invented Four")
	if len(cards) != 2 || damaged != nil || cards[0].Path != path || cards[1].Kept.Moment != BenchTogether {
		t.Fatalf("%+v, %v", cards, damaged)
	}
	got := cards[0].Kept
	if got.Bike != "Invented Four" || got.Carburettors[3].PilotTurnsOut != 2.375 ||
		!math.IsNaN(float64(got.Carburettors[0].FloatHeightMM)) || got.Note != s.Note {
		t.Errorf("got %+v", got)
	}
	if text := readText(t, path); !strings.Contains(text, `"float_height_mm": null`) {
		t.Errorf("unknown is not null:\n%s", text)
	}
	must(t, os.WriteFile(path, []byte("x"), 0o666))
	if cards, damaged := g.ListBench("Invented Four"); len(cards) != 1 || len(damaged) != 1 {
		t.Errorf("beside a damaged one: %d, %v", len(cards), damaged)
	}
}

func TestBadBenchSheetsAreRefused(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	for field, spoil := range map[string]func(s *BenchCard){
		"moment":                           func(s *BenchCard) { s.Moment = "later" },
		"pilot_turns_out of carburettor 2": func(s *BenchCard) { s.Carburettors[1].PilotTurnsOut = 11 },
		"needle_clip of carburettor 1":     func(s *BenchCard) { s.Carburettors[0].NeedleClip = -1 },
		"float_height_mm of carburettor 4": func(s *BenchCard) { s.Carburettors[3].FloatHeightMM = -2 },
		"gaskets of carburettor 1":         func(s *BenchCard) { s.Carburettors[0].Gaskets = "new" },
		"carburettors":                     func(s *BenchCard) { s.Carburettors = nil },
		"text of carburettor 3":            func(s *BenchCard) { s.Carburettors[2].Note = strings.Repeat("x", 1000) },
	} {
		t.Run(field, func(t *testing.T) {
			s := someSheet()
			spoil(&s)
			var e *Error
			if _, err := g.SaveBench("x", &s); !errors.As(err, &e) || e.Field != field {
				t.Errorf("got %v", err)
			}
		})
	}
}

func TestOdds(t *testing.T) {
	t.Parallel()
	s := someSheet()
	if odds := s.Odds(); odds != nil {
		t.Errorf("a usual card: %+v", odds)
	}
	s.Carburettors[2].PilotTurnsOut, s.Carburettors[1].MainJet, s.Carburettors[0].ORings, s.Carburettors[3].Gaskets = 5,
		"115", PartsReused, PartsReused
	var got []string
	for _, o := range s.Odds() {
		got = append(got, o.Field+": "+strings.Join(o.Values, "|"))
	}
	want := "pilot_turns_out: 2|2 1/8|5|2 3/8; main_jet: 112.5|115|112.5|112.5; gaskets: renewed|renewed|renewed|reused"
	if strings.Join(got, "; ") != want {
		t.Errorf("got %s", strings.Join(got, "; "))
	}
}

func TestChecks(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	two := bank.Default(2)
	ids := map[string]bool{}
	for _, c := range PreStartChecks(&two) {
		if ids[c.ID] || c.Part == "" {
			t.Errorf("%+v", c)
		}
		ids[c.ID] = true
	}
	if !ids[CheckSprings] || !ids[CheckThrottleStop] || !ids[CheckTapHose] || len(ids) < 20 {
		t.Errorf("got %v", ids)
	}
	if ticks, err := g.LoadChecks("x"); ticks != nil || err != nil {
		t.Errorf("got %v, %v", ticks, err)
	}
	now := time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC)
	g.now = func() time.Time { return now }
	_, err := g.SaveChecks("x", "0.1.0", []Tick{{ID: CheckVents, Answer: TickDone}})
	must(t, err)
	now = now.Add(time.Hour)
	ticks, err := g.LoadChecks("x")
	must(t, err)
	path, err := g.SaveChecks("x", "0.1.0",
		append(ticks, Tick{ID: CheckTapHose, Answer: TickNotNeeded, Note: "gravity tap"}))
	must(t, err)
	ticks, err = g.LoadChecks("x")
	must(t, err)
	if a, ok := TickOf(ticks, CheckVents); !ok || !a.Time.Equal(now.Add(-time.Hour)) {
		t.Errorf("got %+v", ticks)
	}
	if a, ok := TickOf(ticks, CheckTapHose); !ok || !a.Time.Equal(now) || a.Answer != TickNotNeeded {
		t.Errorf("got %+v", ticks)
	}
	// Half an hour ago the bank came apart: what was ticked before is void.
	s := someSheet()
	s.Time = now.Add(-30 * time.Minute)
	_, err = g.SaveBench("x", &s)
	must(t, err)
	if ticks, err = g.LoadChecks("x"); err != nil || len(ticks) != 1 || ticks[0].ID != CheckTapHose {
		t.Errorf("got %+v, %v", ticks, err)
	}
	// A damaged file is told; the one before it holds.
	must(t, os.WriteFile(path, []byte("x"), 0o666))
	if ticks, err = g.LoadChecks("x"); err == nil || len(ticks) != 0 {
		t.Errorf("got %+v, %v", ticks, err)
	}
}
