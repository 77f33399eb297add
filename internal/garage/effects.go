package garage

import (
	"fmt"
	"math"
	"slices"

	"evendraw/internal/bank"
	"evendraw/internal/card"
)

// SaveEffects writes what was learned of the screws to the bike's card: kPa of draw per clockwise turn, by the screw's
// name. 0 and NaN are unknown and change nothing. Only the lines of effects that differ from the card's, rounded to
// 0.001 kPa, are changed. A screw that the card doesn't have, or an effect out of range, refuses them all.
func (g *Garage) SaveEffects(bike string, effects map[string]float64) error {
	return g.changeBike(bike, func(c *card.Card, b *Bike) ([]card.Op, error) {
		return effectOps(c, b.Bank.Screws, effects)
	})
}

// effectOps returns what puts other effects on a card, nil if nothing changes.
func effectOps(c *card.Card, screws []bank.Screw, effects map[string]float64) (ops []card.Op, err error) {
	for name := range effects {
		if !c.Root().Has("screw") {
			return nil, problem("", "screw", "the card lists no screws whose effects could be kept; add [[screw]] "+
				"with name and moves")
		}
		if !slices.ContainsFunc(screws, func(s bank.Screw) bool { return s.Name == name }) {
			return nil, problem("", "screw", "none is named %q on the card", name)
		}
	}
	for i, s := range screws {
		v, ok := effects[s.Name]
		rounded := math.Round(v*1000) / 1000
		switch {
		case !ok || math.IsNaN(v) || rounded == 0 || rounded == math.Round(s.EffectKPaPerTurn*1000)/1000:
		case math.Abs(v) > bank.MaxEffectKPaPerTurn:
			return nil, problem("", fmt.Sprintf("%s of screw %q", effectKey, s.Name), "%g is not within ±%d", v,
				bank.MaxEffectKPaPerTurn)
		default:
			ops = append(ops, card.Set(fmt.Sprintf("screw[%d]", i), effectKey, card.Number(rounded)))
		}
	}
	return ops, nil
}
