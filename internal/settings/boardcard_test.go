package settings

import (
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// What doesn't fit the board that answers is told of, and not used.
func TestFitCard(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC)
	a := &frame.Announcement{Serial: "S", Channels: []frame.Channel{{Role: frame.Pressure}, {Role: frame.Pressure}}}
	same := []string{"MPX4115A", "MPX4115A"}
	for _, c := range []struct {
		name        string
		card        garage.Board
		words       string
		zero, match bool
	}{
		{"all well", garage.Board{Zero: &garage.ZeroCard{Time: now, OffsetsKPa: kPas(1, 2), Sensors: same},
			Match: &garage.MatchCard{Time: now, Gains: []float64{1, 1}, Sensors: same}}, "", true, true},
		{"old", garage.Board{Zero: &garage.ZeroCard{Time: now.Add(-72 * time.Hour), OffsetsKPa: kPas(1, 2)}},
			"3 days old", true, false},
		{"other layout", garage.Board{Zero: &garage.ZeroCard{Time: now, OffsetsKPa: kPas(1, 2, 3, 4)},
			Match: &garage.MatchCard{Gains: []float64{1}}}, "4 channels", false, false},
		{"other sensors", garage.Board{Sensors: []string{"MPX4250A", "MPX4115A"},
			Zero:  &garage.ZeroCard{Time: now, OffsetsKPa: kPas(1, 2), Sensors: same},
			Match: &garage.MatchCard{Gains: []float64{1, 1}, Sensors: same}}, "other sensors", false, false},
		{"unknown kind", garage.Board{Sensors: []string{"thumb", "MPX4115A"}}, "thumb", false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			notes := strings.Join(FitCard(&c.card, a, now), "\n")
			if !strings.Contains(notes, c.words) || (c.words == "") != (notes == "") ||
				(c.card.Zero != nil) != c.zero || (c.card.Match != nil) != c.match {
				t.Errorf("%q, %+v", notes, c.card)
			}
		})
	}
	// Hoses that setup has found stand for channels that nobody has changed.
	cfg := session.Config{Bank: &bank.Bank{Cylinders: 2, Channels: []int{0, 1}}}
	takeCard(&cfg, &garage.Board{Hoses: []int{1, 0}})
	if !slices.Equal(cfg.Bank.Channels, []int{1, 0}) {
		t.Errorf("channels %v", cfg.Bank.Channels)
	}
	cfg = session.Config{}
	if takeCard(&cfg, &garage.Board{Hoses: []int{2, 0, 1}}); cfg.Bank == nil || cfg.Bank.Cylinders != 3 ||
		!slices.Equal(cfg.Bank.Channels, []int{2, 0, 1}) {
		t.Errorf("without a bike card: %+v", cfg.Bank)
	}
	if card := (garage.Board{Hoses: []int{1, 5}}); len(FitCard(&card, a, now)) == 0 || card.Hoses != nil {
		t.Error("a hose on a channel that there is not")
	}
	// More pressure channels than are read.
	six := &frame.Announcement{Channels: slices.Repeat([]frame.Channel{{Role: frame.Pressure}}, 6)}
	if note := LeftAside(six, &session.Config{}); !strings.Contains(note, "channels 4 and 5") {
		t.Errorf("%q", note)
	}
	if note := LeftAside(a, &session.Config{}); note != "" {
		t.Errorf("%q", note)
	}
}

func kPas(values ...pressure.KPa) []pressure.KPa { return values }
