package cli

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/garage"
	"evendraw/internal/job"
	"evendraw/internal/pressure"
	"evendraw/internal/tell"
)

func newBikeCommand(p *program) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "bike",
		Short: "Make, list and show bike cards",
		Example: `  evendraw bike new "old four" --cylinders 4 --firing-order 1-2-4-3
  evendraw bike list
  evendraw bike show "old four"`,
		Args: usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newBikeNewCommand(p), newBikeListCommand(p), newBikeShowCommand(p))
	return cmd
}

type bikeNewOptions struct {
	cylinders    int
	firingOrder  string
	firingAngles string
	screws       []string
	channels     string
	root         int
	reference    int
	unit         string
	aim, limit   float64
	idle, idling string
	altitude     float64
	note         string
}

func newBikeNewCommand(p *program) *cobra.Command {
	o := &bikeNewOptions{}
	cmd := &cobra.Command{
		Use:   "new NAME",
		Short: "Make a bike card",
		Long: `Make a bike card: a text file that you can edit afterwards. What is not given is
the usual: even firing (a four: 1-2-4-3), channel 0 on cylinder 1, a paired
linkage for a four (screws 1-2, 3-4, 2-3), a screw per carburettor else.
Cylinders count from the seated rider's left; for a vee, as the maker's manual
numbers them. Clockwise is as seen looking at a screw's head.`,
		Example: `  evendraw bike new "my twin" --cylinders 2 --firing-angles 0,270
  evendraw bike new "my four" --cylinders 4 --screw 1-2:1 --screw 3-4:4 --screw 2-3:1,2`,
		Args: usageArgs(cobra.ExactArgs(1)),
		RunE: p.with(job.NoBike, func(cmd *cobra.Command, args []string, set *job.Settings) error {
			return runBikeNew(cmd, set.Garage, o, args[0])
		}),
	}
	f := cmd.Flags()
	f.IntVar(&o.cylinders, "cylinders", 4, "number of cylinders, 2 to 4")
	f.StringVar(&o.firingOrder, "firing-order", "", "cylinders in firing order, as 1-2-4-3")
	f.StringVar(&o.firingAngles, "firing-angles", "", "degrees of crank at which they fire, as 0,270 (default: even)")
	f.StringArrayVar(&o.screws, "screw", nil,
		"a synchronising screw and the cylinders it moves, as 2-3:1,2 (repeat for each)")
	f.StringVar(&o.channels, "channels", "", "board channel of each cylinder, as 0,1,2,3")
	f.IntVar(&o.root, "root", 0, "cylinder whose carburettor carries the throttle stop")
	f.IntVar(&o.reference, "reference", 1, "cylinder that the others are compared with")
	f.StringVar(&o.unit, "unit", "kPa", "unit to show: "+pressure.UnitNames())
	decimalVar(f, &o.aim, "aim", float64(balance.DefaultAim), "spread in kPa at which the advice stops")
	decimalVar(f, &o.limit, "limit", float64(balance.DefaultLimit),
		"spread in kPa at which the bank passes (see the bike's manual)")
	f.StringVar(&o.idle, "idle", "",
		"idle speed by the manual, as 1000-1100 (common practice) or 1050; a terminal is asked")
	f.StringVar(&o.idling, "idling-limit", "",
		"minutes that the engine may idle before it is to cool (default 5, a guess without a fan)")
	decimalVar(f, &o.altitude, "altitude", 0, "metres above sea level")
	f.StringVar(&o.note, "note", "", "a remark")
	return cmd
}

// mostLimit is the largest spread that a card takes, kPa.
const mostLimit = 50

func runBikeNew(cmd *cobra.Command, g *garage.Garage, o *bikeNewOptions, name string) error {
	if strings.TrimSpace(name) == "" {
		return job.Usagef("a bike needs a name")
	}
	if o.cylinders < bank.MinCylinders || o.cylinders > bank.MaxCylinders {
		return job.Usagef("--cylinders %d is not from %d to %d", o.cylinders, bank.MinCylinders, bank.MaxCylinders)
	}
	if !(math.Abs(o.altitude) <= pressure.HighestM) {
		return job.Usagef("--altitude %g is no altitude in metres", o.altitude)
	}
	if !(o.aim > 0) || !(o.limit >= o.aim && o.limit <= mostLimit) {
		return job.Usagef("--aim %g must be above 0, and --limit %g from there to %d kPa", o.aim, o.limit, mostLimit)
	}
	b := garage.DefaultBike(name, o.cylinders)
	b.Reference, b.Unit, b.Note = o.reference, o.unit, o.note
	b.AimKPa, b.LimitKPa = pressure.KPa(o.aim), pressure.KPa(o.limit)
	if cmd.Flags().Changed("altitude") {
		b.AltitudeM = &o.altitude
	}
	if _, err := pressure.ParseUnit(o.unit); err != nil {
		return &job.UsageError{Err: err}
	}
	if err := o.askIdle(cmd, &b); err != nil {
		return &job.UsageError{Err: err}
	}
	if err := o.fill(&b.Bank); err != nil {
		return err
	}
	if err := b.Bank.Check(); err != nil {
		return &job.UsageError{Err: err}
	}
	if b.Reference < 1 || b.Reference > o.cylinders {
		return job.Usagef("--reference %d is none of the %d cylinders", b.Reference, o.cylinders)
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
	fmt.Fprintf(cmd.OutOrStdout(), "bike card %s\nscrews: %s; edit the file to say more\n", p.Card,
		strings.Join(tell.ScrewNames(&b.Bank), ", "))
	return nil
}

// askIdle puts the idle speed and the limit of idling on a card: from the flags, else, at a terminal, by asking.
func (o *bikeNewOptions) askIdle(cmd *cobra.Command, b *garage.Bike) (err error) {
	lines := bufio.NewScanner(cmd.InOrStdin())
	ask := func(given, question, usual string) string {
		if in, ok := cmd.InOrStdin().(*os.File); given != "" || !ok || !job.IsTerminal(in) {
			return given
		}
		fmt.Fprintf(cmd.ErrOrStderr(), "%s [%s]: ", question, usual)
		if lines.Scan(); strings.TrimSpace(lines.Text()) != "" {
			return lines.Text()
		}
		return usual
	}
	idle := ask(o.idle, "Idle speed by the manual, rpm; - is unknown, Enter takes common practice", garage.CommonIdle)
	if idle != "" && strings.TrimSpace(idle) != "-" {
		if b.IdleRPMLow, b.IdleRPMHigh, err = garage.ParseIdle(idle); err != nil {
			return err
		}
	}
	idling := ask(o.idling, "Minutes that it may idle; Enter takes a guess without a fan", "5")
	if idling != "" {
		b.IdlingLimitMin, err = garage.ParseMinutes(idling)
	}
	return err
}

// fill puts the flags that were given into the bank.
func (o *bikeNewOptions) fill(b *bank.Bank) (err error) {
	if o.firingOrder != "" {
		if b.FiringOrder, err = numbers("--firing-order", strings.ReplaceAll(o.firingOrder, "-", ",")); err != nil {
			return err
		}
	}
	if o.channels != "" {
		if b.Channels, err = numbers("--channels", o.channels); err != nil {
			return err
		}
	}
	if o.root != 0 {
		b.Root = o.root
	}
	if o.firingAngles != "" {
		b.FiringAngles = nil
		for _, s := range strings.Split(o.firingAngles, ",") {
			v, err := strconv.ParseFloat(strings.TrimSpace(s), 64) // degrees: commas stand between
			if err != nil {
				return job.Usagef("--firing-angles: %q is no number", s)
			}
			b.FiringAngles = append(b.FiringAngles, v)
		}
	}
	if len(o.screws) == 0 {
		return nil
	}
	b.Screws = nil
	for _, s := range o.screws {
		name, moves, ok := strings.Cut(s, ":")
		if !ok {
			return job.Usagef("--screw %q: say which cylinders it moves, as 2-3:1,2", s)
		}
		cylinders, err := numbers("--screw", moves)
		if err != nil {
			return err
		}
		b.Screws = append(b.Screws, bank.Screw{Name: name, Moves: cylinders})
	}
	return nil
}

func numbers(flag, list string) ([]int, error) {
	var out []int
	for _, s := range strings.Split(list, ",") {
		n, err := strconv.Atoi(strings.TrimSpace(s))
		if err != nil {
			return nil, job.Usagef("%s: %q is no whole number", flag, s)
		}
		out = append(out, n)
	}
	return out, nil
}

func newBikeListCommand(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the bike cards",
		Args:  usageArgs(cobra.NoArgs),
		RunE: p.with(job.NoBike, func(cmd *cobra.Command, _ []string, set *job.Settings) error {
			bikes, damaged := set.Garage.ListBikes()
			reportAll(cmd, damaged)
			last, _ := set.Garage.LastBike()
			if len(bikes) == 0 && len(damaged) > 0 && !asJSON {
				return nil // there are cards, and what is wrong with them is told
			}
			return tell.Bikes(cmd.OutOrStdout(), bikes, last, asJSON)
		}),
	}
	jsonFlag(cmd, &asJSON)
	return cmd
}

func newBikeShowCommand(p *program) *cobra.Command {
	return &cobra.Command{
		Use:               "show [NAME]",
		Short:             "Show a bike's card and its sync records",
		Args:              usageArgs(cobra.MaximumNArgs(1)),
		ValidArgsFunction: p.completeBikes,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 {
				p.choice.Bike = args[0]
			}
			set, err := p.settings(cmd, job.TheBike)
			if err != nil {
				return err
			}
			path, err := set.Garage.BikePaths(set.Bike.Name)
			if err != nil {
				return err
			}
			tell.BikeCard(cmd.OutOrStdout(), set.Bike, path.Card)
			heads, damaged := set.Garage.ListHeads(set.Bike.Name)
			reportAll(cmd, damaged)
			from := max(len(heads)-historyShown, 0)
			if from > 0 {
				fmt.Fprintf(cmd.OutOrStdout(), "  %d records, the newest:\n", len(heads))
			}
			for i := from; i < len(heads); i++ {
				fmt.Fprintln(cmd.OutOrStdout(), tell.HistoryLine(i+1, &heads[i], set.Unit()))
			}
			return nil
		},
	}
}
