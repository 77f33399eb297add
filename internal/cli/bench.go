package cli

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"evendraw/internal/desk"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/screen"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
	"evendraw/internal/typing"
)

type benchOptions struct {
	settings map[string]*string // flags, by field
	together bool
	screws   string
	note     string
	notes    []string
	corrects string
	json     bool
	screen   screen.Options

	screwsFound, stopFound, toOrder string
}

// benchFlags are the flags of the settings.
var benchFlags = []struct{ flag, field, help string }{
	{"pilot", garage.FieldPilotTurns, "pilot screws, turns out from lightly seated, as \"1 7/8, 2, 1 7/8, 2\""},
	{"main-jet", garage.FieldMainJet, "main jets, as stamped on them"},
	{"pilot-jet", garage.FieldPilotJet, "pilot jets"},
	{"needle", garage.FieldNeedle, "needles"},
	{"clip", garage.FieldNeedleClip, "grooves that the needle clips sit in, from the top"},
	{"float", garage.FieldFloatHeight, "float heights in mm"},
	{"gaskets", garage.FieldGaskets, "gaskets: renewed or reused"},
	{"o-rings", garage.FieldORings, "O-rings: renewed or reused"},
	{"pilot-parts", garage.FieldPilotParts, "x: spring, washer and O-ring are under the pilot screw, in that order"},
	{"diaphragm", garage.FieldDiaphragm, "x: the diaphragm's edge lies in its groove"},
	{"fuel-screen", garage.FieldFuelScreen, "x: the fuel screen is in and clean"},
}

func newBenchCommand(p *program) *cobra.Command {
	o := &benchOptions{settings: map[string]*string{}}
	cmd := &cobra.Command{
		Use:   "bench",
		Short: "Write down how each carburettor is set, and what to look at before the start",
		Long: `Write a bench card: how each carburettor is set when the bank comes apart, and
with --together before it goes back. Without settings a form opens. Each flag
takes a value for every carburettor from the rider's left, or one for all; leave
a place empty for what you don't know. Turns are counted out from
lightly seated: never force a pilot screw onto its seat. Each call writes a card of
its own; with --corrects what is not given, and a place left empty, is taken over from the
earlier card.`,
		Example: `  evendraw bench
  evendraw bench --pilot "1 7/8, 1 7/8, 2, 1 7/8" --main-jet 112.5 --clip 3
  evendraw bench --together --pilot 2.25 --gaskets renewed --o-rings renewed
  evendraw bench check`,
		RunE: p.with(settings.TheBike, func(cmd *cobra.Command, _ []string, set *settings.Settings) error {
			set.Garage.SetLastBike(set.Bike.Name) // only a convenience
			return runBench(cmd.Context(), set, o, cmd.Flags(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		}),
	}
	f := cmd.Flags()
	for _, b := range benchFlags {
		o.settings[b.field] = f.String(b.flag, "", b.help)
	}
	f.BoolVar(&o.together, "together", false, "the card is of the bank before it goes back")
	f.StringVar(&o.screws, "screws", "", "kind of the pilot screws: fuel (out is richer) or air (out is leaner)")
	f.StringVar(&o.note, "note", "", "a remark on the bank")
	f.StringVar(&o.screwsFound, "screws-found", "", "how the synchronising screws stood, as \"1-2: 5 threads\"")
	f.StringVar(&o.stopFound, "stop-found", "", "how the throttle stop stood")
	f.StringVar(&o.toOrder, "to-order", "", "parts to order")
	f.StringArrayVar(&o.notes, "carb-note", nil,
		"a remark on one carburettor, as \"2: slide scored\" (repeat for each)")
	f.StringVar(&o.corrects, "corrects", "",
		"number of the card in bench list that this one stands for; what is not given is taken over from it")
	f.BoolVar(&o.json, "json", false, "print JSON: saved, sheet, differ_wildly")
	screenFlags(f, &o.screen)
	cmd.AddCommand(newBenchListCommand(p), newBenchShowCommand(p), newBenchCompareCommand(p), newBenchCheckCommand(p))
	return cmd
}

// asked reports whether settings were given as flags.
func (o *benchOptions) asked(f *pflag.FlagSet) bool {
	asked := o.note+o.screwsFound+o.stopFound+o.toOrder != "" || len(o.notes) > 0 || o.screws != ""
	asked = asked || o.corrects != "" && f.Changed("together")
	for _, b := range benchFlags {
		asked = asked || f.Changed(b.flag)
	}
	return asked
}

func runBench(ctx context.Context, set *settings.Settings, o *benchOptions, f *pflag.FlagSet, out,
	errOut io.Writer) error {
	moment := garage.BenchApart
	if o.together {
		moment = garage.BenchTogether
	}
	card := garage.NewBenchCard(&set.Bike.Bank, moment)
	card.Program, card.PilotScrews = set.Version, set.Bike.PilotScrews
	if o.corrects != "" {
		cards, _ := set.Garage.ListBench(set.Bike.Name)
		old, err := cardNumbered(cards, []string{o.corrects}, 0)
		if err != nil {
			return hint.Usagef("--corrects: %w", err)
		}
		card = old.Kept
		card.Program, card.Corrects = set.Version, filepath.Base(old.Path)
		card.Note = strings.TrimSpace(strings.TrimSuffix(card.Note, desk.CutShort)) // this one is whole
		card.Carburettors = slices.Clone(card.Carburettors)
		if f.Changed("together") {
			card.Moment = moment
		}
	}
	if err := o.fill(&card); err != nil {
		return err
	}
	var ended error // by which a form that is to be saved all the same was cut short
	if !o.asked(f) {
		if o.json || !typing.IsTerminal(out) {
			return hint.Usagef("give settings, as --pilot \"1 7/8, 2, 2, 1 7/8\"; the form needs a terminal")
		}
		var save bool
		if card, save, ended = desk.FillBench(ctx, set, o.screen, card); !save {
			return ended
		}
	}
	if card.Empty() && o.screws == "" {
		return hint.Usagef("nothing is written down yet: give settings, as --pilot \"1 7/8, 2, 2, 1 7/8\"")
	}
	answered, _ := set.Garage.LoadChecks(set.Bike.Name)
	path, err := set.SaveBench(&card)
	if path == "" {
		return err
	}
	if open, _ := set.Garage.LoadChecks(set.Bike.Name); len(open) < len(answered) {
		fmt.Fprintln(errOut, clearedChecks)
	}
	if o.screws != "" && set.Bike.PilotScrews == "" { // what the trim asks the bike's card for
		err = cmp.Or(err, set.Garage.SavePilotScrews(set.Bike.Name, o.screws))
	}
	return cmp.Or(tell.Bench(out, path, &garage.StoredBench{Path: path, Kept: card}, o.json), err, ended)
}

// clearedChecks is told where a card of a bank that came apart ends what was answered before.
const clearedChecks = "The bank came apart: all of evendraw bench check is to be looked at again. " +
	"A card that only mends an earlier one has --corrects."

// fill puts the flags that were given into the card.
func (o *benchOptions) fill(s *garage.BenchCard) error {
	for _, b := range benchFlags {
		text := *o.settings[b.field]
		if text == "" {
			continue
		}
		earlier := slices.Clone(s.Carburettors)
		if err := s.SetAll(b.field, text); err != nil {
			return hint.Usagef("--%s: %w", b.flag, err)
		}
		for i := range earlier { // of a card that stands for another: there a place left empty is not given
			if c := &s.Carburettors[i]; o.corrects != "" && c.Text(b.field) == "" {
				c.Set(b.field, earlier[i].Text(b.field))
			}
		}
	}
	switch o.screws {
	case garage.FuelScrews, garage.AirScrews:
		s.PilotScrews = o.screws
	case "":
	default:
		return hint.Usagef("--screws %q is neither fuel nor air", o.screws)
	}
	s.Note, s.ScrewsFound = cmp.Or(o.note, s.Note), cmp.Or(o.screwsFound, s.ScrewsFound)
	s.StopFound, s.ToOrder = cmp.Or(o.stopFound, s.StopFound), cmp.Or(o.toOrder, s.ToOrder)
	for _, n := range o.notes {
		which, text, _ := strings.Cut(n, ":")
		c, err := strconv.Atoi(strings.TrimSpace(which))
		switch {
		case err != nil:
			return hint.Usagef("--carb-note %q: begin with the carburettor, as \"2: slide scored\"", n)
		case c < 1 || c > len(s.Carburettors):
			return hint.Usagef("--carb-note %q: there is no carburettor %d, they go from 1 to %d", n, c,
				len(s.Carburettors))
		}
		s.Carburettors[c-1].Note = strings.TrimSpace(text)
	}
	return nil
}
