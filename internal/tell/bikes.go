package tell

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"evendraw/internal/bank"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
)

// ofGarage begins the name of what the garage has as each bike has: captures of a practice engine, or without a card.
const ofGarage = "garage_"

// Paths prints where everything is kept; the bike is "" for none.
func Paths(g *garage.Garage, bike string, asJSON bool, out io.Writer) error {
	p := g.Paths()
	places := [][2]string{{"garage", p.Dir}, {"bikes", p.Bikes}, {"boards", p.Boards},
		{ofGarage + "captures", p.Captures}}
	garages := len(places)
	if bike != "" {
		b, err := g.BikePaths(bike)
		if err != nil {
			return err
		}
		places = append(places, [][2]string{{"card", b.Card}, {"records", b.Syncs}, {"unfinished", b.Unfinished},
			{"bench", b.Bench}, {"captures", b.Captures}}...)
	}
	all, lines := map[string]string{}, []string(nil)
	for i, place := range places {
		all[place[0]] = place[1]
		if i == garages {
			lines = append(lines, fmt.Sprintf("of %s:", plain.Text(bike)))
		}
		lines = append(lines, fmt.Sprintf("%-10s  %s", strings.TrimPrefix(place[0], ofGarage), plain.Text(place[1])))
	}
	return show(out, asJSON, all, lines)
}

// Bikes lists bike cards; last is the one that is used when none is named.
func Bikes(out io.Writer, bikes []garage.Bike, last string, asJSON bool) error {
	list, widest := []map[string]any{}, 0
	for _, b := range bikes {
		list = append(list, map[string]any{"name": b.Name, "cylinders": b.Bank.Cylinders})
		widest = max(widest, utf8.RuneCountInString(plain.Text(b.Name)))
	}
	var lines []string
	if len(bikes) == 0 {
		lines = append(lines, `no bike cards yet; make one: evendraw bike new "NAME"`)
	}
	if last != "" {
		lines = append(lines, "* is the bike that is used when none is named")
	}
	for _, b := range bikes {
		mark := map[bool]string{true: "*", false: " "}[b.Name == last]
		lines = append(lines, fmt.Sprintf("%s %s%d cylinders, screws %s", mark, pad(plain.Text(b.Name), widest+2),
			b.Bank.Cylinders, strings.Join(b.Bank.ScrewNames(bank.AllScrews), ", ")))
	}
	return show(out, asJSON, list, lines)
}

// UnknownKeys says which keys of a card mean nothing to this program, "" where all do.
func UnknownKeys(whose string, keys []string) string {
	if len(keys) == 0 {
		return ""
	}
	return fmt.Sprintf("%s has keys that mean nothing here: %s", whose, strings.Join(keys, ", "))
}
