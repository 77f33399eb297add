package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"evendraw/internal/garage"
	"evendraw/internal/screen"
	"evendraw/internal/view"
)

type benchOptions struct {
	settings map[string]*string // flags, by field
	together bool
	screws   string
	note     string
	notes    []string
	corrects int
	json     bool
	display  displayOptions
}

// benchFlags are the flags of the settings.
var benchFlags = []struct{ flag, field, help string }{
	{"pilot", garage.FieldPilotTurns, "pilot screws, turns out from lightly seated, as \"2 1/4, 2, 2 1/8, 2\""},
	{"main-jet", garage.FieldMainJet, "main jets, as stamped on them"},
	{"pilot-jet", garage.FieldPilotJet, "pilot jets"},
	{"needle", garage.FieldNeedle, "needles"},
	{"clip", garage.FieldNeedleClip, "grooves that the needle clips sit in, from the top"},
	{"float", garage.FieldFloatHeight, "float heights in mm"},
	{"gaskets", garage.FieldGaskets, "gaskets: renewed or reused"},
	{"o-rings", garage.FieldORings, "O-rings: renewed or reused"},
}

func newBenchCommand(r *rig) *cobra.Command {
	o := &benchOptions{settings: map[string]*string{}}
	cmd := &cobra.Command{
		Use:   "bench",
		Short: "Write down how each carburettor is set, and what to look at before the start",
		Long: `Write a bench sheet: how each carburettor is set when the bank comes apart, and
with --together before it goes back. Without settings a form opens. Each flag
takes a value for every carburettor from the rider's left, or one for all; leave
a place empty for what you don't know. Turns are eighths, counted out from
lightly seated: never force a pilot screw onto its seat.`,
		Example: `  evendraw bench
  evendraw bench --pilot "2 1/4, 2 1/4, 2, 2 1/8" --main-jet 112.5 --clip 3
  evendraw bench --together --pilot 2.25 --gaskets renewed --o-rings renewed
  evendraw bench check`,
		Args: usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runBench(cmd.Context(), r, o, cmd.Flags(), cmd.OutOrStdout())
		},
	}
	f := cmd.Flags()
	for _, b := range benchFlags {
		o.settings[b.field] = f.String(b.flag, "", b.help)
	}
	f.BoolVar(&o.together, "together", false, "the sheet is of the bank before it goes back")
	f.StringVar(&o.screws, "screws", "", "kind of the pilot screws: fuel (out is richer) or air (out is leaner)")
	f.StringVar(&o.note, "note", "", "a remark on the bank")
	f.StringArrayVar(&o.notes, "carb-note", nil, "a remark on one carburettor, as \"2: slide scored\" (repeat for each)")
	f.IntVar(&o.corrects, "corrects", 0, "number of the sheet in bench list that this one stands for")
	f.BoolVar(&o.json, "json", false, "print JSON")
	o.display.addFlags(f)
	cmd.AddCommand(newBenchListCommand(r), newBenchShowCommand(r), newBenchCompareCommand(r), newBenchCheckCommand(r))
	return cmd
}

// theBike chooses the bike, which a verb can't do without.
func (r *rig) theBike() error {
	if err := r.open(); err != nil {
		return err
	}
	if err := r.chooseBike(); err != nil {
		return err
	}
	if r.bike == nil {
		return &hinted{fmt.Errorf("no bike was used yet"), `name one of evendraw bike list with --bike, or make one: evendraw bike new "NAME" --cylinders 4`}
	}
	return nil
}

// anyBike is theBike for verbs about what was kept: where no bike was used yet,
// they take the only card there is, as that of the practice engine may be.
func (r *rig) anyBike() error {
	if err := r.open(); err != nil {
		return err
	}
	if last, _ := r.garage.LastBike(); last == "" && r.bikeName == "" {
		if bikes, damaged := r.garage.ListBikes(); len(bikes) == 1 && len(damaged) == 0 {
			r.bikeName = bikes[0].Name
		}
	}
	return r.theBike()
}

// asked reports whether settings were given as flags.
func (o *benchOptions) asked(f *pflag.FlagSet) bool {
	asked := o.note != "" || len(o.notes) > 0 || o.screws != ""
	for _, b := range benchFlags {
		asked = asked || f.Changed(b.flag)
	}
	return asked
}

func runBench(ctx context.Context, r *rig, o *benchOptions, f *pflag.FlagSet, out io.Writer) error {
	if err := r.theBike(); err != nil {
		return err
	}
	moment := garage.SheetApart
	if o.together {
		moment = garage.SheetTogether
	}
	sheet := garage.NewBenchSheet(&r.bike.Bank, moment)
	sheet.Program, sheet.PilotScrews = version, r.bike.PilotScrews
	if err := o.fill(r, &sheet); err != nil {
		return err
	}
	if !o.asked(f) {
		if o.json || !isTerminal(out) {
			return usagef("give settings, as --pilot \"2 1/4, 2, 2, 2 1/8\"; the form needs a terminal")
		}
		filled, save, err := fillForm(ctx, r, o, sheet)
		if err != nil || !save {
			return err
		}
		sheet = filled
	}
	path, err := r.garage.SaveBench(r.bike.Name, &sheet)
	if err != nil {
		return err
	}
	if o.json {
		return tellSheetJSON(out, path, &sheet)
	}
	for _, line := range view.SheetLines(&sheet) {
		fmt.Fprintln(out, line)
	}
	fmt.Fprintln(out, "saved "+path)
	return nil
}

// fillForm lets the user fill in a sheet on the screen.
func fillForm(ctx context.Context, r *rig, o *benchOptions, sheet garage.BenchSheet) (garage.BenchSheet, bool, error) {
	form := view.NewBenchForm(r.bike.Name, sheet)
	if before, _ := r.garage.ListBench(r.bike.Name); len(before) > 0 {
		form.Before = &before[len(before)-1].Sheet
	}
	t, err := screen.OpenTerminal(o.display.screen())
	if err != nil {
		return sheet, false, err
	}
	defer t.Close()
	for !form.Done {
		t.Show(func(c *screen.Canvas) { screen.DrawBenchForm(c, &form) })
		select {
		case <-ctx.Done():
			return sheet, false, context.Cause(ctx)
		case <-t.Gone():
			return sheet, false, fmt.Errorf("the terminal is gone; nothing was saved")
		case <-t.Resized():
		case key := <-t.Keys():
			switch key {
			case view.KeyCtrlC:
				return sheet, false, context.Canceled
			case view.KeyCtrlZ:
				if err := t.Suspend(); err != nil {
					return sheet, false, err
				}
			default:
				form = form.Update(key)
			}
		}
	}
	return form.Sheet, form.Save, nil
}

// fill puts the flags that were given into the sheet.
func (o *benchOptions) fill(r *rig, s *garage.BenchSheet) error {
	for _, b := range benchFlags {
		text := *o.settings[b.field]
		if text == "" {
			continue
		}
		values := splitValues(text)
		if len(values) != 1 && len(values) != len(s.Carburettors) {
			return usagef("--%s: %d values for %d carburettors; one value is for all", b.flag, len(values), len(s.Carburettors))
		}
		for i := range s.Carburettors {
			if err := s.Carburettors[i].Set(b.field, values[i%len(values)]); err != nil {
				return usagef("--%s: %w", b.flag, err)
			}
		}
	}
	switch o.screws {
	case garage.FuelScrews, garage.AirScrews:
		s.PilotScrews = o.screws
	case "":
	default:
		return usagef("--screws %q is neither fuel nor air", o.screws)
	}
	s.Note = o.note
	for _, n := range o.notes {
		which, text, _ := strings.Cut(n, ":")
		c, err := strconv.Atoi(strings.TrimSpace(which))
		if err != nil || c < 1 || c > len(s.Carburettors) {
			return usagef("--carb-note %q: begin with the carburettor, as \"2: slide scored\"", n)
		}
		s.Carburettors[c-1].Note = strings.TrimSpace(text)
	}
	if o.corrects != 0 {
		sheets, _ := r.garage.ListBench(r.bike.Name)
		if o.corrects < 1 || o.corrects > len(sheets) {
			return usagef("--corrects %d: evendraw bench list numbers the sheets", o.corrects)
		}
		s.Corrects, s.Time = baseOf(sheets[o.corrects-1].Path), sheets[o.corrects-1].Sheet.Time
	}
	return nil
}

// splitValues splits at semicolons, or where there is none at commas.
func splitValues(text string) []string {
	mark := ","
	if strings.Contains(text, ";") {
		mark = ";"
	}
	values := strings.Split(text, mark)
	for i := range values {
		values[i] = strings.TrimSpace(values[i])
	}
	return values
}

func tellSheetJSON(out io.Writer, path string, s *garage.BenchSheet) error {
	odds := []string{}
	for _, o := range s.Odds() {
		odds = append(odds, o.Field)
	}
	return json.NewEncoder(out).Encode(struct {
		Saved string             `json:"saved,omitempty"`
		Sheet *garage.BenchSheet `json:"sheet"`
		Odd   []string           `json:"differ_wildly"`
	}{path, s, odds})
}
