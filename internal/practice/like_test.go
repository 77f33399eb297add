package practice

import (
	"math"
	"testing"

	"evendraw/internal/garage"
)

// A practice on a bike's bank goes by that bike's idle speed and limit of idling too.
func TestAPracticeLikeABike(t *testing.T) {
	t.Parallel()
	b := garage.DefaultBike("Invented Twin", 2)
	b.IdleRPMLow, b.IdleRPMHigh, b.IdlingLimitMin = 1150, 1250, 3
	p := New(Options{Name: Fresh, Bank: &b.Bank, Like: &b, Seed: 1})
	cfg := p.Config()
	if cfg.Bank.Cylinders != 2 || cfg.Idle.LowRPM != 1150 || cfg.Idle.HighRPM != 1250 || cfg.IdlingLimit != 180 ||
		p.Named() != "like Invented Twin" {
		t.Errorf("%+v of %s", cfg, p.Named())
	}
	p = New(Options{Name: Fresh, Seed: 1})
	if cfg = p.Config(); cfg.Idle.HighRPM != 0 || cfg.IdlingLimit != 0 || p.Named() != "" {
		t.Errorf("without a bike: %+v of %s", cfg, p.Named())
	}
}

// It idles near the range of that bike's card at first, as far as it can; one that it can't reach is refused.
func TestAPracticeIdlesNearTheCardsRange(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		low, high, rpm float64 // rpm: near which it idles
		can            bool
	}{{0, 0, 1050, true}, {1000, 1100, 1050, true}, {1900, 2100, 1710, true}, {750, 850, 935, true},
		{300, 5000, 1050, true}, {2500, 2700, 2250, true}, {4000, 4200, 2500, false}, {300, 400, 700, false}} {
		b := garage.DefaultBike("Invented Twin", 2)
		b.IdleRPMLow, b.IdleRPMHigh = c.low, c.high
		p := New(Options{Name: Fresh, Bank: &b.Bank, Like: &b, Seed: 1, Running: true})
		buf := make([]byte, 4096)
		for p.Engine.Truth().TimeS < 3 {
			if _, err := p.Engine.Read(buf); err != nil {
				t.Fatal(err)
			}
		}
		const room = 150 // rpm: chance, and what the calibration leaves
		if rpm := p.Engine.Truth().RPM; math.Abs(rpm-c.rpm) > room || (CanIdle(&b) == nil) != c.can {
			t.Errorf("%v: idles at %.0f rpm, %v", c, rpm, CanIdle(&b))
		}
	}
}
