package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/bikeform"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/settings"
	"evendraw/internal/typing"
)

type bikeNewOptions struct {
	cylinders, firingOrder, firingAngles, channels, reference string
	screws                                                    []string
	root                                                      int
	noNuts                                                    bool
	pilots                                                    string
	unit                                                      string
	aim, limit                                                float64
	idle, idling                                              string
	altitude                                                  float64
	note                                                      string

	asks     *typing.Dialogue  // with a terminal; nil where nobody is asked
	answered map[string]string // what it answered last, by flag
}

func newBikeNewCommand(p *program) *cobra.Command {
	o := &bikeNewOptions{}
	cmd := &cobra.Command{
		Use:   "new NAME",
		Short: "Make a bike card",
		Long: `Make a bike card: a text file that you can edit afterwards. A terminal is asked what
is not given, with the usual to take by Enter; elsewhere that is taken: even firing
(a four: 1-2-4-3), channel 0 on cylinder 1, a paired linkage for a four (screws
1-2, 3-4, 2-3), a screw per carburettor else. Cylinders count from the seated
rider's left; for a vee, as the maker's manual numbers them. Clockwise is as seen
looking at a screw's head.

Firing angles go in the firing order, from its first cylinder, which is at 0. A vee
twin, order 1-2: with 0,270 cylinder 2 fires 270 degrees after 1, with 0,450 450
after, as in the order 2-1 with 0,270. The manual says which.`,
		Example: `  evendraw bike new "my twin" --cylinders 2 --firing-angles 0,270
  evendraw bike new "my four" --cylinders 4 --screw 1-2:1 --screw 3-4:4 --screw 2-3:1,2`,
		Args: cobra.ExactArgs(1),
		RunE: p.with(settings.NoBike, func(cmd *cobra.Command, args []string, set *settings.Settings) error {
			return runBikeNew(cmd, set.Garage, o, args[0])
		}),
	}
	f := cmd.Flags()
	f.StringVar(&o.cylinders, "cylinders", "", "number of cylinders, 2 to 4 (default 4)")
	f.StringVar(&o.firingOrder, "firing-order", "", "cylinders in firing order, as 1-2-4-3")
	f.StringVar(&o.firingAngles, "firing-angles", "", "degrees of crank at which they fire, in the firing "+
		"order, as 0,270 (default: even)")
	f.StringArrayVar(&o.screws, screwFlag, nil,
		"a synchronising screw and the cylinders it moves, as 2-3:1,2 (repeat for each)")
	f.StringVar(&o.channels, "channels", "", "board channel of each cylinder, as 0,1,2,3")
	f.IntVar(&o.root, "root", 0,
		"cylinder whose carburettor carries the throttle stop (default: that which no screw moves)")
	f.StringVar(&o.reference, "reference", "", "cylinder that the others are compared with, or mean: the mean of all "+
		"(default: the one that carries the throttle stop)")
	f.BoolVar(&o.noNuts, "no-lock-nuts", false, "the synchronising screws have no lock nuts")
	f.StringVar(&o.pilots, "pilot-screws", "", "kind of the pilot screws: fuel (out is richer) or air (out is leaner)")
	f.StringVar(&o.unit, "unit", "kPa", "unit to show: "+pressure.UnitNames())
	decimalVar(f, &o.aim, "aim", float64(balance.DefaultAim), "spread in kPa at which the advice stops")
	decimalVar(f, &o.limit, "limit", float64(balance.DefaultLimit),
		"spread in kPa at which the bank passes (see the bike's manual)")
	f.StringVar(&o.idle, "idle", "",
		"idle speed by the manual, as 1000-1100 (common practice), or 1050 for 50 either way")
	f.StringVar(&o.idling, "idling-limit", "",
		"minutes that the engine may idle before it is to cool (default 5, a guess without a fan)")
	largeVar(f, &o.altitude, "altitude", 0, "metres above sea level")
	f.StringVar(&o.note, "note", "", "a remark")
	return cmd
}

// screwFlag gives the synchronising screws.
const screwFlag = "screw"

func runBikeNew(cmd *cobra.Command, g *garage.Garage, o *bikeNewOptions, name string) error {
	if in, ok := cmd.InOrStdin().(*os.File); ok && typing.IsTerminal(in) {
		o.asks = typing.NewDialogue(cmd.Context(), in, cmd.ErrOrStderr())
	}
	if old, err := g.LoadBike(name); err == nil {
		return hint.Usage(hint.With(fmt.Errorf("there is a bike card named %q already", old.Name),
			"evendraw bike edit opens it; another name makes another card"))
	}
	b, err := o.bike(cmd, name)
	if err == nil {
		err = garage.CheckBike(&b)
	}
	if err != nil {
		return hint.Usage(err)
	}
	if err := g.NewBike(&b); err != nil {
		return err
	}
	if err := g.SetLastBike(name); err != nil {
		return err
	}
	p, err := g.BikePaths(name)
	if err != nil {
		return err
	}
	fmt.Fprintf(cmd.OutOrStdout(), "bike card %s\nscrews: %s; evendraw bike edit says more\n", p.Card,
		strings.Join(b.Bank.ScrewNames(bank.AllScrews), ", "))
	return nil
}

// question is what is asked of a bike that is being made, unless a flag has answered it.
type question struct {
	flag, given string // the flag that answers it, and what that gave
	bikeform.Question
	explain string // lines above it, "" none
}

// backKey goes back to the question before.
const backKey = "<"

// give takes into b what a question's flag gave.
func (q *question) give(b *garage.Bike) error {
	err := q.Answer(b, q.given)
	if field := (*garage.Error)(nil); errors.As(err, &field) {
		return fmt.Errorf("--%s: %s", q.flag, field.Problem)
	}
	if err != nil {
		return fmt.Errorf("--%s: %w", q.flag, err)
	}
	return nil
}

// ask takes into b what a terminal answers, and asks again where it can't be; back is set where the question before
// is to be asked again. Where nobody is there any more no card is made. What was answered before is offered again, if
// it still fits.
func (o *bikeNewOptions) ask(ctx context.Context, b *garage.Bike, q *question) (back bool, err error) {
	if q.explain != "" {
		o.asks.Say(q.explain)
	}
	usual := q.Usual(b)
	if before, tried := o.answered[q.flag], *b; before != "" && q.Answer(&tried, before) == nil {
		usual = before
	}
	for {
		answer, err := o.asks.Ask(ctx, fmt.Sprintf("%s [%s]:", q.Text, usual))
		switch {
		case err != nil:
			return false, err
		case answer == backKey:
			return true, nil
		}
		answer = cmp.Or(answer, usual)
		if err = q.Answer(b, answer); err == nil {
			o.answered[q.flag] = answer
			return false, nil
		}
		o.asks.Say(plain.Lines(err.Error()))
	}
}

// askAll puts a bike together from the flags, and from a terminal's answers to what they leave out; else the usual
// stays.
func (o *bikeNewOptions) askAll(cmd *cobra.Command, b *garage.Bike) error {
	type asked struct {
		at     int
		before garage.Bike
	}
	var done []asked // what was answered at the terminal
	o.answered = map[string]string{}
	questions := o.questions()
	for at := 0; at < len(questions); at++ {
		q, before := &questions[at], *b
		if q.flag == screwFlag { // before its answer is held against the throttle stop
			b.Bank.Root = cmp.Or(o.root, b.Bank.Root)
		}
		switch {
		case q.given != "":
			if err := q.give(b); err != nil {
				return err
			}
		case o.asks != nil:
			back, err := o.ask(cmd.Context(), b, q)
			if err != nil {
				return err
			}
			if back {
				if n := len(done); n > 0 {
					at, *b, done = done[n-1].at, done[n-1].before, done[:n-1]
				}
				at-- // without one before it, the same is asked again
				continue
			}
			done = append(done, asked{at, before})
		}
		if at == 0 {
			if err := o.setFlags(cmd, b); err != nil {
				return err
			}
		}
	}
	return nil
}

// setFlags takes into a bike what is not asked, and rests on its number of cylinders alone.
func (o *bikeNewOptions) setFlags(cmd *cobra.Command, b *garage.Bike) (err error) {
	b.Unit, b.Note = o.unit, o.note
	b.AimKPa, b.LimitKPa = pressure.KPa(o.aim), pressure.KPa(o.limit)
	if cmd.Flags().Changed("altitude") {
		b.AltitudeM = &o.altitude
	}
	if o.channels != "" {
		if b.Bank.Channels, err = bikeform.ParseCylinders(o.channels); err != nil {
			return fmt.Errorf("--channels: %w", err)
		}
	}
	return garage.CheckBike(b)
}

// bike is what flags and answers say of a bike.
func (o *bikeNewOptions) bike(cmd *cobra.Command, name string) (garage.Bike, error) {
	if !(o.aim > 0) || !(o.limit >= o.aim && o.limit <= garage.MaxSpreadKPa) {
		return garage.Bike{}, fmt.Errorf("--aim %g must be above 0, and --limit %g from there to %d kPa", o.aim,
			o.limit, garage.MaxSpreadKPa)
	}
	b := garage.DefaultBike(name, bank.MaxCylinders)
	if err := garage.CheckBike(&b); err != nil { // the name alone can be wrong
		return b, err
	}
	err := o.askAll(cmd, &b)
	if err != nil {
		return b, err
	}
	b.Bank.Root = cmp.Or(o.root, b.Bank.Root)
	switch b.Reference = b.Bank.Root; o.reference {
	case "":
	case "mean":
		b.ByMean = true
	default:
		if b.Reference, err = strconv.Atoi(o.reference); err != nil {
			return b, fmt.Errorf("--reference: %q is no cylinder, and not mean", o.reference)
		}
	}
	return b, nil
}

// questions are all that is asked.
func (o *bikeNewOptions) questions() []question {
	return []question{
		{"cylinders", o.cylinders, bikeform.AskCylinders,
			"Enter takes what stands in brackets, " + backKey + " goes back to the question before."},
		{"firing-order", o.firingOrder, bikeform.AskFiring, ""},
		{"firing-angles", o.firingAngles, bikeform.AskAngles,
			"Counted from the first. Of a vee twin 1-2, with 0,270 cylinder 2 fires\n" +
				"270 after 1; with 0,450 it is 450, the same as 2-1 with 0,270."},
		{screwFlag, strings.Join(o.screws, " "), bikeform.AskScrews,
			"NAME:CYLINDERS, spaces between: 2-3:1,2 is the screw between 2 and 3,\n" +
				"and turning it moves the butterflies of 1 and 2."},
		{"idle", o.idle, bikeform.AskIdle, ""},
		{"idling-limit", o.idling, bikeform.AskMinutes, ""},
		{"no-lock-nuts", map[bool]string{true: "no"}[o.noNuts], bikeform.AskNuts, ""},
		{"pilot-screws", o.pilots, bikeform.AskPilots, ""},
	}
}
