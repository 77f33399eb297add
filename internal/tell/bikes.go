package tell

import (
	"encoding/json"
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
	if asJSON {
		all := map[string]string{}
		for _, place := range places {
			all[place[0]] = place[1]
		}
		return json.NewEncoder(out).Encode(all)
	}
	for i, place := range places {
		if i == garages {
			fmt.Fprintf(out, "of %s:\n", plain.Text(bike))
		}
		fmt.Fprintf(out, "%-10s  %s\n", strings.TrimPrefix(place[0], ofGarage), plain.Text(place[1]))
	}
	return nil
}

// Bikes lists bike cards; last is the one that is used when none is named.
func Bikes(out io.Writer, bikes []garage.Bike, last string, asJSON bool) error {
	if asJSON {
		list := []map[string]any{}
		for _, b := range bikes {
			list = append(list, map[string]any{"name": b.Name, "cylinders": b.Bank.Cylinders})
		}
		return json.NewEncoder(out).Encode(list)
	}
	if len(bikes) == 0 {
		fmt.Fprintln(out, `no bike cards yet; make one: evendraw bike new "NAME"`)
	}
	if last != "" {
		fmt.Fprintln(out, "* is the bike that is used when none is named")
	}
	widest := 0
	for _, b := range bikes {
		widest = max(widest, utf8.RuneCountInString(plain.Text(b.Name)))
	}
	for _, b := range bikes {
		mark := " "
		if b.Name == last {
			mark = "*"
		}
		fmt.Fprintf(out, "%s %s%d cylinders, screws %s\n", mark, pad(plain.Text(b.Name), widest+2), b.Bank.Cylinders,
			strings.Join(b.Bank.ScrewNames(bank.AllScrews), ", "))
	}
	return nil
}

// UnknownKeys says which keys of a bike's card mean nothing to this program, "" where all do.
func UnknownKeys(b *garage.Bike) string {
	if len(b.Unknown) == 0 {
		return ""
	}
	return fmt.Sprintf("the card of %q has keys that mean nothing here: %s", b.Name, strings.Join(b.Unknown, ", "))
}
