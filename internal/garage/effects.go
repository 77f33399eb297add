package garage

import (
	"fmt"
	"io/fs"
	"math"
	"slices"

	"evendraw/internal/bank"
	"evendraw/internal/card"
	"evendraw/internal/store"
)

// SaveEffects writes what was learned of the screws to the bike's card: kPa of draw per clockwise
// turn, by the screw's name. 0 and NaN are unknown and change nothing. Only the lines of effects
// that differ from the card's, rounded to 0.001 kPa, are changed. A screw that the card doesn't
// have, or an effect out of range, refuses them all.
func (g *Garage) SaveEffects(bike string, effects map[string]float64) error {
	p, err := g.BikePaths(bike)
	if err != nil {
		return err
	}
	// A look before a lock is made: often there is nothing to change.
	text, err := store.Read(p.Card)
	if err == nil {
		text, err = withEffects(p.Card, text, effects)
	}
	if err != nil || text == nil {
		return err
	}
	return g.disk.Edit(p.Card, func(old []byte) ([]byte, error) {
		if old == nil {
			return nil, &Error{Path: p.Card, Problem: "is gone", Err: fs.ErrNotExist}
		}
		return withEffects(p.Card, old, effects)
	})
}

// withEffects returns the card's text with other effects, nil if nothing changes.
func withEffects(path string, text []byte, effects map[string]float64) ([]byte, error) {
	c, b, err := parseBike(path, text)
	if err != nil {
		return nil, err
	}
	known := func(name string) bool {
		return slices.ContainsFunc(b.Bank.Screws, func(s bank.Screw) bool { return s.Name == name })
	}
	for name := range effects {
		if !c.Root().Has("screw") {
			return nil, &Error{Path: path, Field: "screw",
				Problem: "the card lists no screws whose effects could be kept; add [[screw]] with name and moves"}
		}
		if !known(name) {
			return nil, problem(path, "screw", "none is named %q on the card", name)
		}
	}
	var ops []card.Op
	for i, s := range b.Bank.Screws {
		v, ok := effects[s.Name]
		rounded := math.Round(v*1000) / 1000
		switch {
		case !ok || math.IsNaN(v) || rounded == 0 || rounded == math.Round(s.EffectKPaPerTurn*1000)/1000:
		case math.Abs(v) > bank.MaxEffectKPaPerTurn:
			return nil, problem(path, fmt.Sprintf("%s of screw %q", effectKey, s.Name), "%g is not within ±%d", v,
				bank.MaxEffectKPaPerTurn)
		default:
			ops = append(ops, card.Set(fmt.Sprintf("screw[%d]", i), effectKey, card.Number(rounded)))
		}
	}
	if ops == nil {
		return nil, nil
	}
	return edited(path, c, bikeOf, ops)
}
