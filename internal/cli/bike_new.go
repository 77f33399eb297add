package cli

import (
	"bufio"
	"cmp"
	"fmt"
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

type bikeNewOptions struct {
	cylinders, firingOrder, firingAngles, channels string
	screws                                         []string
	root, reference                                int
	noNuts                                         bool
	pilots                                         string
	unit                                           string
	aim, limit                                     float64
	idle, idling                                   string
	altitude                                       float64
	note                                           string

	lines *bufio.Scanner // what is typed at a terminal; nil where nobody is asked
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
looking at a screw's head.`,
		Example: `  evendraw bike new "my twin" --cylinders 2 --firing-angles 0,270
  evendraw bike new "my four" --cylinders 4 --screw 1-2:1 --screw 3-4:4 --screw 2-3:1,2`,
		Args: usageArgs(cobra.ExactArgs(1)),
		RunE: p.with(job.NoBike, func(cmd *cobra.Command, args []string, set *job.Settings) error {
			return runBikeNew(cmd, set.Garage, o, args[0])
		}),
	}
	f := cmd.Flags()
	f.StringVar(&o.cylinders, "cylinders", "", "number of cylinders, 2 to 4 (default 4)")
	f.StringVar(&o.firingOrder, "firing-order", "", "cylinders in firing order, as 1-2-4-3")
	f.StringVar(&o.firingAngles, "firing-angles", "", "degrees of crank at which they fire, as 0,270 (default: even)")
	f.StringArrayVar(&o.screws, "screw", nil,
		"a synchronising screw and the cylinders it moves, as 2-3:1,2 (repeat for each)")
	f.StringVar(&o.channels, "channels", "", "board channel of each cylinder, as 0,1,2,3")
	f.IntVar(&o.root, "root", 0,
		"cylinder whose carburettor carries the throttle stop (default: that which no screw moves)")
	f.IntVar(&o.reference, "reference", 0,
		"cylinder that the others are compared with (default: the one that carries the throttle stop)")
	f.BoolVar(&o.noNuts, "no-lock-nuts", false, "the synchronising screws have no lock nuts")
	f.StringVar(&o.pilots, "pilot-screws", "", "kind of the pilot screws: fuel (out is richer) or air (out is leaner)")
	f.StringVar(&o.unit, "unit", "kPa", "unit to show: "+pressure.UnitNames())
	decimalVar(f, &o.aim, "aim", float64(balance.DefaultAim), "spread in kPa at which the advice stops")
	decimalVar(f, &o.limit, "limit", float64(balance.DefaultLimit),
		"spread in kPa at which the bank passes (see the bike's manual)")
	f.StringVar(&o.idle, "idle", "", "idle speed by the manual, as 1000-1100 (common practice) or 1050")
	f.StringVar(&o.idling, "idling-limit", "",
		"minutes that the engine may idle before it is to cool (default 5, a guess without a fan)")
	decimalVar(f, &o.altitude, "altitude", 0, "metres above sea level")
	f.StringVar(&o.note, "note", "", "a remark")
	return cmd
}

// mostLimit is the largest spread that a card takes, kPa.
const mostLimit = 50

func runBikeNew(cmd *cobra.Command, g *garage.Garage, o *bikeNewOptions, name string) error {
	if in, ok := cmd.InOrStdin().(*os.File); ok && job.IsTerminal(in) {
		o.lines = bufio.NewScanner(in)
	}
	b, err := o.bike(cmd, name)
	if err == nil {
		err = garage.CheckBike(&b)
	}
	if err != nil {
		return &job.UsageError{Err: err}
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
		strings.Join(tell.ScrewNames(&b.Bank), ", "))
	return nil
}

// ask returns what a flag gave, else what a terminal answers, else the usual.
func (o *bikeNewOptions) ask(cmd *cobra.Command, given, question, usual string) string {
	if given != "" || o.lines == nil {
		return given
	}
	fmt.Fprintf(cmd.ErrOrStderr(), "%s [%s]: ", question, usual)
	if o.lines.Scan(); strings.TrimSpace(o.lines.Text()) != "" {
		return strings.TrimSpace(o.lines.Text())
	}
	return usual
}

// bike is what flags and answers say of a bike.
func (o *bikeNewOptions) bike(cmd *cobra.Command, name string) (b garage.Bike, err error) {
	n := bank.MaxCylinders
	if text := o.ask(cmd, o.cylinders, "How many cylinders, 2 to 4", "4"); text != "" {
		if n, err = strconv.Atoi(text); err != nil || n < bank.MinCylinders || n > bank.MaxCylinders {
			return b, fmt.Errorf("--cylinders %q is not from %d to %d", text, bank.MinCylinders, bank.MaxCylinders)
		}
	}
	b = garage.DefaultBike(name, n)
	b.Unit, b.Note, b.Bank.NoLockNuts = o.unit, o.note, o.noNuts
	b.AimKPa, b.LimitKPa = pressure.KPa(o.aim), pressure.KPa(o.limit)
	if !(o.aim > 0) || !(o.limit >= o.aim && o.limit <= mostLimit) {
		return b, fmt.Errorf("--aim %g must be above 0, and --limit %g from there to %d kPa", o.aim, o.limit, mostLimit)
	}
	if cmd.Flags().Changed("altitude") {
		b.AltitudeM = &o.altitude
	}
	if err := o.fillBank(cmd, &b.Bank); err != nil {
		return b, err
	}
	b.Reference = cmp.Or(o.reference, b.Bank.Root)
	idle := o.ask(cmd, o.idle, "Idle speed by the manual, rpm; - is unknown, Enter takes common practice",
		garage.CommonIdle)
	if idle != "" && idle != "-" {
		if b.IdleRPMLow, b.IdleRPMHigh, err = garage.ParseIdle(idle); err != nil {
			return b, err
		}
	}
	idling := o.ask(cmd, o.idling, "Minutes that it may idle; Enter takes a guess without a fan", "5")
	if idling != "" {
		if b.IdlingLimitMin, err = garage.ParseMinutes(idling); err != nil {
			return b, err
		}
	}
	return b, o.fillScrews(cmd, &b)
}

// fillScrews asks what kind of screws they are.
func (o *bikeNewOptions) fillScrews(cmd *cobra.Command, b *garage.Bike) error {
	if !o.noNuts {
		answer := o.ask(cmd, "", "Have the synchronising screws lock nuts, yes or no", "yes")
		b.Bank.NoLockNuts = strings.HasPrefix(strings.ToLower(answer), "n")
	}
	switch kind := o.ask(cmd, o.pilots, "Pilot screws: fuel (out is richer) or air (out is leaner)", "unknown"); kind {
	case garage.FuelScrews, garage.AirScrews:
		b.PilotScrews = kind
	case "", "unknown":
	default:
		return fmt.Errorf("--pilot-screws %q is neither fuel nor air", kind)
	}
	return nil
}

// fillBank puts what is given and answered into the bank.
func (o *bikeNewOptions) fillBank(cmd *cobra.Command, b *bank.Bank) (err error) {
	order := o.ask(cmd, o.firingOrder, "Firing order, by the manual", garage.FormatCylinders(b.FiringOrder))
	if order != "" {
		if b.FiringOrder, err = garage.ParseCylinders(order); err != nil {
			return fmt.Errorf("--firing-order: %w", err)
		}
	}
	if angles := o.ask(cmd, o.firingAngles, "Degrees of crank at which they fire, as 0,270", "even"); angles != "" &&
		angles != "even" {
		if b.FiringAngles, err = firingAngles(angles); err != nil {
			return err
		}
	}
	if o.channels != "" {
		if b.Channels, err = garage.ParseCylinders(o.channels); err != nil {
			return fmt.Errorf("--channels: %w", err)
		}
	}
	screws := o.ask(cmd, strings.Join(o.screws, " "), "Synchronising screws, each with the cylinders it moves",
		garage.FormatScrews(b.Screws))
	if screws != "" {
		if b.Screws, err = garage.ParseScrews(screws); err != nil {
			return fmt.Errorf("--screw: %w", err)
		}
		b.Root = cmp.Or(garage.RootOf(b.Cylinders, b.Screws), b.Root)
	}
	if o.root != 0 {
		b.Root = o.root
	}
	return nil
}

// firingAngles reads degrees of crank.
func firingAngles(text string) (out []float64, err error) {
	for _, s := range strings.Split(text, ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
		if err != nil {
			return nil, fmt.Errorf("--firing-angles: %q is no number", s)
		}
		out = append(out, v)
	}
	return out, nil
}
