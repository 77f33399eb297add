package practice

import (
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
