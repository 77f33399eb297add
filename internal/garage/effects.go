package garage

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strconv"

	"evendraw/internal/bank"
)

// SaveEffects writes what was learned of the screws to the bike's card: kPa of
// draw per clockwise turn, by the screw's name. 0 and NaN are unknown and change
// nothing. Only the lines of effects that differ from the card's, rounded to
// 0.001 kPa, are changed. A screw that the card doesn't have, or an effect out of
// range, refuses them all.
func (g *Garage) SaveEffects(bike string, effects map[string]float64) error {
	p, err := g.BikePaths(bike)
	if err != nil {
		return err
	}
	// A look before a lock is made: often there is nothing to change.
	text, err := readFile(p.Card)
	if err == nil {
		text, err = withEffects(p.Card, text, effects)
	}
	if err != nil || text == nil {
		return err
	}
	return g.edit(p.Card, func(old []byte) ([]byte, error) {
		if old == nil {
			return nil, &Error{Path: p.Card, Problem: "is gone", Err: fs.ErrNotExist}
		}
		return withEffects(p.Card, old, effects)
	})
}

// withEffects returns the card's text with other effects, nil if nothing
// changes.
func withEffects(path string, text []byte, effects map[string]float64) ([]byte, error) {
	d, b, err := parseBike(path, text)
	if err != nil {
		return nil, err
	}
	known := func(name string) bool {
		return slices.ContainsFunc(b.Bank.Screws, func(s bank.Screw) bool { return s.Name == name })
	}
	for name := range effects {
		if !d.root().has("screw") {
			return nil, &Error{Path: path, Field: "screw",
				Problem: "the card lists no screws whose effects could be kept; add [[screw]] with name and moves"}
		}
		if !known(name) {
			return nil, &Error{Path: path, Field: "screw", Problem: fmt.Sprintf("none is named %q on the card", name)}
		}
	}
	var changes []change
	for i, s := range b.Bank.Screws {
		v, ok := effects[s.Name]
		rounded := math.Round(v*1000) / 1000
		switch {
		case !ok || math.IsNaN(v) || rounded == 0 || rounded == math.Round(s.EffectKPaPerTurn*1000)/1000:
			continue
		case math.Abs(v) > bank.MaxEffectKPaPerTurn:
			return nil, &Error{Path: path, Field: fmt.Sprintf("%s of screw %q", effectKey, s.Name),
				Problem: fmt.Sprintf("%g is not within ±%d", v, bank.MaxEffectKPaPerTurn)}
		}
		if c, differs := d.set(fmt.Sprintf("screw[%d]", i), effectKey, strconv.FormatFloat(rounded, 'f', -1, 64)); differs {
			changes = append(changes, c)
		}
		b.Bank.Screws[i].EffectKPaPerTurn = rounded
	}
	if changes == nil {
		return nil, nil
	}
	changed := d.applied(changes)
	return changed, verifyEffects(d, changed, &b)
}

var errUnverified = errors.New("its text could not be changed without changing more than was meant")

// verifyEffects makes sure that the changed text says what d said, but with
// the effects of b.
func verifyEffects(d *doc, changed []byte, b *Bike) error {
	after, _, err := parseBike(d.path, changed)
	if err != nil {
		return notSaved(d.path, fmt.Errorf("%w: %w", errUnverified, err))
	}
	for i, s := range d.root().tables("screw", maxScrews) {
		if want := b.Bank.Screws[i].EffectKPaPerTurn; want != 0 {
			s.values[effectKey] = s.number(effectKey, math.Inf(-1), math.Inf(1), 0)
			s.values[effectKey] = want
		}
	}
	for _, s := range after.root().tables("screw", maxScrews) {
		if s.has(effectKey) {
			s.values[effectKey] = s.number(effectKey, math.Inf(-1), math.Inf(1), 0)
		}
	}
	if !sameTree(d.tree, after.tree) {
		return notSaved(d.path, errUnverified)
	}
	return nil
}

// sameTree compares what two texts say. Printed, NaN is equal to itself, and
// keys come in order.
func sameTree(a, b map[string]any) bool { return fmt.Sprintf("%#v", a) == fmt.Sprintf("%#v", b) }
