package main

import (
	"bufio"
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/balance"
	"evendraw/internal/capture"
	"evendraw/internal/cycle"
	"evendraw/internal/frame"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

type analyseOptions struct {
	json   bool
	bits   int
	sensor string
	minRPM float64
	maxRPM float64
}

func newAnalyseCommand(r *rig) *cobra.Command {
	o := &analyseOptions{}
	cmd := &cobra.Command{
		Use:   "analyse FILE",
		Short: "Say what a capture or a table holds",
		Long: `Read a capture, or a table of another logger, as fast as the machine goes, and
say what it holds. FILE may be - for standard input. A table is CSV with t_us
first (microseconds), then one column a channel: c0, c1 … raw counts, or v0 …
volts, or kpa0 … absolute kPa.

A capture is read with the settings that are in its head; --bike and --ambient
take their place.`,
		Example: `  evendraw analyse morning.cap
  evendraw analyse table.csv --ambient 98.2 --json`,
		Args: usageArgs(cobra.ExactArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runAnalyse(cmd.Context(), r, o, args[0], cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	cmd.Flags().BoolVar(&o.json, "json", false, "print a line of JSON for every cycle, and a summary")
	cmd.Flags().IntVar(&o.bits, "bits", 10, "converter bits of a table of counts, 10 to 16")
	cmd.Flags().StringVar(&o.sensor, "sensor", "", "kind of the sensors of a table of counts or volts")
	cmd.Flags().Float64Var(&o.minRPM, "min-rpm", 0, "slowest speed to look for (default 300)")
	cmd.Flags().Float64Var(&o.maxRPM, "max-rpm", 0, "fastest speed to look for (default 7000)")
	return cmd
}

// openInput opens a capture or a table, - being standard input.
func openInput(name string, stdin io.Reader) (*capture.Input, io.Closer, error) {
	if name == "-" {
		in, err := capture.Open(stdin)
		return in, io.NopCloser(nil), err
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, nil, &capture.Error{Problem: err.Error()}
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		f.Close()
		return nil, nil, &capture.Error{Problem: name + " is a folder"}
	}
	in, err := capture.Open(f)
	if err != nil {
		f.Close()
		return nil, nil, fmt.Errorf("%s: %w", name, err)
	}
	return in, f, nil
}

// inputConfig returns the settings to read an input with.
func (r *rig) inputConfig(in *capture.Input, sensorName string) (session.Config, error) {
	cfg, found, err := configOfHead(in.Head)
	if err != nil {
		return cfg, err
	}
	if found {
		r.override(&cfg)
		return cfg, nil
	}
	if in.Table == nil {
		cfg.BankOf = r.config
		return cfg, nil
	}
	card, err := tableCard(sensorName, in.Table.Channels)
	if err != nil {
		return cfg, err
	}
	if r.bikeName == "" {
		r.bike = nil // another logger's table is no business of the last bike's card
	}
	cfg = r.configOf(card)
	// Another logger's kPa are taken as they are.
	cfg.Zeroed = in.Table.Quantity == capture.KPa
	return cfg, nil
}

// Speeds that can be looked for, rpm. Chosen: slower than a ship's engine, and what
// the summary's distribution holds.
const slowestRPM, fastestRPM = 60, 20000

// checkSpeeds refuses speeds that can't be looked for.
func (o *analyseOptions) checkSpeeds() error {
	for _, v := range []float64{o.minRPM, o.maxRPM} {
		if v != 0 && !(v >= slowestRPM && v <= fastestRPM) {
			return usagef("--min-rpm and --max-rpm: %g is not from %d to %d", v, slowestRPM, fastestRPM)
		}
	}
	if least, most := cmp.Or(o.minRPM, cycle.DefaultMinRPM), cmp.Or(o.maxRPM, cycle.DefaultMaxRPM); least >= most {
		return usagef("--min-rpm %g is not below --max-rpm %g", least, most)
	}
	return nil
}

func runAnalyse(ctx context.Context, r *rig, o *analyseOptions, name string, stdin io.Reader, stdout, errOut io.Writer) error {
	if o.bits < 10 || o.bits > 16 {
		return usagef("--bits %d is not from 10 to 16", o.bits)
	}
	if err := o.checkSpeeds(); err != nil {
		return err
	}
	if err := r.open(); err != nil {
		return err
	}
	if err := r.chooseBike(); err != nil && r.bikeName != "" {
		return err
	}
	in, file, err := openInput(name, stdin)
	if err != nil {
		return err
	}
	defer file.Close()
	cfg, err := r.inputConfig(in, o.sensor)
	if err != nil {
		return err
	}
	cfg.MinRPM, cfg.MaxRPM = o.minRPM, o.maxRPM
	out := bufio.NewWriterSize(stdout, 64<<10)
	sum, sess, err := analyse(ctx, cfg, in, o, out)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if n := in.CutShort(); n > 0 {
		fmt.Fprintf(errOut, "%s ends in the middle of a frame: its last %d bytes were ignored\n", name, n)
	}
	if cfg.BankOf != nil && r.bike != nil && !o.json {
		fmt.Fprintf(out, "read with the bike card %q; --bike chooses another\n", tell.Plain(r.bike.Name))
	}
	if err := sumUp(out, errOut, sum, sess, name, o.json); err != nil {
		return err
	}
	return out.Flush()
}

// analyse runs an input through a session.
func analyse(ctx context.Context, cfg session.Config, in *capture.Input, o *analyseOptions, out *bufio.Writer) (*session.Summary, *session.Session, error) {
	var ambient pressure.KPa
	sum := session.NewSummary(func() pressure.KPa { return ambient })
	sess := session.New(cfg, session.Options{Bits: o.bits, OnReading: func(rd *balance.Reading, c *session.Chain) {
		cfg := c.Config()
		ambient = cfg.Ambient
		sum.Push(rd)
		if o.json {
			out.Write(append(view.AppendJSON(out.AvailableBuffer(), rd, c.Link(), &cfg, true), '\n'))
		}
	}})
	if in.Table != nil {
		return sum, sess, sess.RunTable(ctx, in.Table)
	}
	return sum, sess, sess.Run(ctx, in.Bytes)
}

// boardPrinted says whether a chain's board can only print.
func boardPrinted(c *session.Chain) frame.Printed {
	if a := c.Board(); a != nil {
		return a.Printed
	}
	return frame.NotPrinted
}

// noFrame says why an input gave no frame: the board that it names, nil without, can't be read, or frames came
// that no announcement explains.
func noFrame(a *frame.Announcement, unannounced uint64) error {
	problem := "holds no frame of a board"
	if unannounced > 0 {
		problem = fmt.Sprintf("holds %d data frames but no announcement to read them by", unannounced)
	}
	if a != nil {
		if err := a.Readable(); err != nil {
			problem = strings.TrimPrefix(err.Error(), "frame: ")
		}
	}
	return &capture.Error{Problem: problem}
}

// sumUp prints the summary; an input without a single frame is an error.
func sumUp(out, errOut io.Writer, sum *session.Summary, sess *session.Session, name string, asJSON bool) error {
	link := sess.Snapshot().Link
	if link.Frames == 0 {
		err := noFrame(sess.Snapshot().Board, link.Unannounced)
		if why := sess.Snapshot().Err; why != nil {
			err = &capture.Error{Problem: why.Error()}
		}
		return fmt.Errorf("%s: %w", name, err)
	}
	sess.Chain(func(c *session.Chain) {
		cfg := c.Config()
		if asJSON {
			out.Write(view.SummaryJSON(sum, c))
			out.Write([]byte("\n"))
			if cfg.AmbientFrom != session.FromZeroPass {
				fmt.Fprintln(errOut, ambientNote(&cfg))
			}
			return
		}
		printSummary(out, sum, c)
	})
	return nil
}

// printSummary says in words and a table what a file holds.
func printSummary(out io.Writer, sum *session.Summary, c *session.Chain) {
	link, cfg, b := c.Link(), c.Config(), c.Bank()
	fmt.Fprintf(out, "%.1f s, %d frames, %d lost in %d gaps, %d damaged, %d twice, %d missed by the board\n",
		link.LastTime, link.Frames, link.Lost, link.Gaps, link.Damaged, link.Duplicates, link.Overflows)
	fmt.Fprintln(out, ambientNote(&cfg))
	if !cfg.Zeroed {
		fmt.Fprintln(out, "no zero pass: the sensors' own offsets are in the figures")
	}
	if text := view.PrintedText(boardPrinted(c)); text != "" {
		fmt.Fprintln(out, text)
	}
	if sum.Cycles == 0 {
		fmt.Fprintln(out, "no steady cycle in it: the engine stood, or nothing pulses")
	} else {
		fmt.Fprintf(out, "%d cycles, %.0f rpm (5 to 95 %%: %.0f to %.0f), spread %s kPa\n",
			sum.Cycles, sum.RPM(0.5), sum.RPM(0.05), sum.RPM(0.95), pressure.Kilopascal.Format(sum.Spread()))
	}
	if sum.Torn > 0 {
		fmt.Fprintf(out, "%d cycles have too much missing in them to count\n", sum.Torn)
	}
	if sum.Cycles == sum.Torn {
		return
	}
	printHoses(out, sum.Hoses(&b))
	fmt.Fprintf(out, "%-9s %-8s %9s %22s %16s %9s %9s %9s  %s\n", "cylinder", "channel", "draw", "difference", "opening", "ripple", "dip", "misfires", "states")
	for _, cyl := range sum.Cylinders(&b) {
		diff := "reference"
		if cyl.Cylinder != sum.Reference {
			diff = figure(cyl.Difference) + " ±" + figure(cyl.Uncertainty)
		}
		states := ""
		for _, s := range stateOrder {
			if share := cyl.States[s]; share > 0 {
				states += fmt.Sprintf("%s %.0f%% ", s, 100*share)
			}
		}
		opening := "–"
		if !math.IsNaN(cyl.Opening) {
			opening = fmt.Sprintf("%.3f ±%.3f", cyl.Opening, cyl.OpeningUncertainty)
		}
		fmt.Fprintf(out, "%-9d %-8d %9s %22s %16s %9s %9s %9d  %s\n", cyl.Cylinder, cyl.Channel, figure(cyl.Draw), diff, opening, figure(cyl.Ripple), figure(cyl.Dip), cyl.Misfires, states)
	}
	printLags(out, sum.Cylinders(&b))
}

// printLags says what hoses and sensors do to ripple and dip, where it is known.
func printLags(out io.Writer, cylinders []session.CylinderSummary) {
	var lags, damping []string
	known := false
	for _, c := range cylinders {
		lag, share := "–", "–"
		if c.Lag > 0 {
			lag, share, known = fmt.Sprintf("%.1f", 1e3*c.Lag), fmt.Sprintf("%.0f", 100*c.Damping), true
		}
		lags, damping = append(lags, lag), append(damping, share)
	}
	if known {
		fmt.Fprintf(out, "hose and sensor lag %s ms and take %s %% off ripple and dip\n", strings.Join(lags, ", "), strings.Join(damping, ", "))
	}
}

// printHoses says what the order of the pulses tells of the hoses.
func printHoses(out io.Writer, o cycle.HoseOrder) {
	switch len(o.Exchanged) {
	case 0:
		fmt.Fprintf(out, "hoses: %s", o.Verdict)
	default:
		fmt.Fprintf(out, "hoses: %s, those of cylinders %s", o.Verdict, pairsText(o.Exchanged))
		if len(o.Alternatives) > 0 {
			fmt.Fprintf(out, ", or of %s, which would look the same", pairsText(o.Alternatives))
		}
	}
	if len(o.Unseen) > 0 {
		fmt.Fprintf(out, "; an exchange of %s would not show", pairsText(o.Unseen))
	}
	fmt.Fprintln(out)
}

// pairsText names pairs of cylinders.
func pairsText(pairs [][2]int) string {
	var all []string
	for _, p := range pairs {
		all = append(all, fmt.Sprintf("%d and %d", p[0], p[1]))
	}
	return strings.Join(all, ", ")
}

// figure writes a pressure in kPa to hundredths, a dash if it is not known.
func figure(p pressure.KPa) string {
	if math.IsNaN(float64(p)) {
		return "–"
	}
	return fmt.Sprintf("%.2f", float64(p))
}
