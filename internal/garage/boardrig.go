package garage

import (
	"fmt"
	"strconv"
)

// SaveRig puts what b says of its sensors and hoses on the board's card, and leaves everything else
// there as it is; without a card one is made of b.
func (g *Garage) SaveRig(b *Board) error {
	fresh := *b
	if fresh.SupplyMV == 0 {
		fresh.SupplyMV = defaultSupplyMV
	}
	text, path, err := g.newBoardText(&fresh)
	if err != nil {
		return err
	}
	if _, err := g.LoadBoard(b.Serial); err != nil {
		return err
	}
	return g.edit(path, func(old []byte) ([]byte, error) {
		if old == nil {
			return text, nil
		}
		return withRig(path, old, b)
	})
}

// withRig returns the card's text with other sensors and hoses.
func withRig(path string, text []byte, b *Board) ([]byte, error) {
	d, old, err := parseBoard(path, text)
	if err != nil {
		return nil, err
	}
	var changes []change
	put := func(key, value string) {
		if _, there := d.places[key]; there {
			if c, differs := d.set("", key, value); differs {
				changes = append(changes, c)
			}
			return
		}
		changes = append(changes, d.after(d.places["serial"].end, key+" = "+value))
	}
	if b.Sensors != nil {
		put("sensors", tomlList(b.Sensors, tomlText))
		old.Sensors = b.Sensors
	}
	if b.Hoses != nil {
		put("hoses", tomlList(b.Hoses, strconv.Itoa))
		old.Hoses = b.Hoses
	}
	changed := d.applied(changes)
	after, now, err := parseBoard(path, changed)
	if err != nil {
		return nil, notSaved(path, fmt.Errorf("%w: %w", errUnverified, err))
	}
	for _, tree := range []map[string]any{d.tree, after.tree} {
		delete(tree, "sensors")
		delete(tree, "hoses")
	}
	if !sameTree(d.tree, after.tree) || tomlList(now.Sensors, tomlText) != tomlList(old.Sensors, tomlText) ||
		tomlList(now.Hoses, strconv.Itoa) != tomlList(old.Hoses, strconv.Itoa) {
		return nil, notSaved(path, errUnverified)
	}
	return changed, nil
}
