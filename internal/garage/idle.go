package garage

import (
	"fmt"
	"strconv"
	"strings"

	"evendraw/internal/card"
)

const (
	// CommonIdle is an idle speed that is offered where none is known (common practice, no
	// source), as ParseIdle reads it.
	CommonIdle = "1000-1100"
	// idleEither is how far either way of a single speed an idle may be, rpm. Chosen.
	idleEither = 50.0
)

// ParseIdle reads an idle speed as manuals give it, in revolutions a minute: 1000-1100, or 1050 for 50 either way.
func ParseIdle(s string) (low, high float64, err error) {
	a, b, ranged := strings.Cut(strings.ReplaceAll(s, "–", "-"), "-")
	low, errA := strconv.ParseFloat(strings.TrimSpace(a), 64)
	if high = low; ranged {
		high, err = strconv.ParseFloat(strings.TrimSpace(b), 64)
	} else {
		low, high = low-idleEither, high+idleEither
	}
	switch {
	case errA != nil || err != nil:
		return 0, 0, fmt.Errorf("%q is no idle speed: write 1000-1100, or 1050 for 50 either way", s)
	case !(low >= minIdle && high <= maxIdle && low <= high):
		return 0, 0, fmt.Errorf("%q is not within %d to %d rpm, the lower first", s, minIdle, maxIdle)
	}
	return low, high, nil
}

// ParseMinutes reads for how many minutes an engine may idle.
func ParseMinutes(s string) (float64, error) {
	v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(s), ",", ".", 1), 64)
	if err != nil || !(v >= minIdlingLimit && v <= maxIdlingLimit) {
		return 0, fmt.Errorf("%q is not from %g to %d minutes", s, minIdlingLimit, maxIdlingLimit)
	}
	return v, nil
}

// SaveIdle writes the idle speed to a bike's card, which has none.
func (g *Garage) SaveIdle(bike string, low, high float64) error {
	return g.changeBike(bike, func(*card.Card, *Bike) ([]card.Op, error) {
		return []card.Op{card.Set("", "idle_rpm_low", card.Number(low)),
			card.Set("", "idle_rpm_high", card.Number(high))}, nil
	})
}

// SavePilotScrews writes the kind of the pilot screws to a bike's card, which has none.
func (g *Garage) SavePilotScrews(bike, kind string) error {
	return g.changeBike(bike, func(*card.Card, *Bike) ([]card.Op, error) {
		return []card.Op{card.Set("", "pilot_screws", card.Text(kind))}, nil
	})
}
