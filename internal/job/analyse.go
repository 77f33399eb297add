package job

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math"
	"strings"

	"evendraw/internal/balance"
	"evendraw/internal/capture"
	"evendraw/internal/cycle"
	"evendraw/internal/frame"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// AnalyseOptions are what the command line says of an analysis.
type AnalyseOptions struct {
	JSON   bool
	Bits   int     // converter bits of a table of counts
	Sensor string  // kind of the sensors of a table of counts or volts
	MinRPM float64 // slowest speed to look for; 0 is the usual
	MaxRPM float64 // fastest
}

// Analyse says what a capture or a table holds, as fast as the machine goes.
func Analyse(ctx context.Context, set *Settings, o *AnalyseOptions, name string, std Streams) error {
	in, file, err := openInput(name, std.In)
	if err != nil {
		return err
	}
	defer file.Close()
	cfg, err := set.inputConfig(in, o.Sensor, &notes{tell: std.Warn})
	if err != nil {
		return err
	}
	cfg.MinRPM, cfg.MaxRPM = o.MinRPM, o.MaxRPM
	out := bufio.NewWriterSize(std.Out, 64<<10)
	sum, sess, err := analyse(ctx, cfg, in, o, out)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if n := in.CutShort(); n > 0 {
		fmt.Fprintf(std.Err, "%s ends in the middle of a frame: its last %d bytes were ignored\n", name, n)
	}
	if cfg.BankOf != nil && set.Bike != nil && !o.JSON {
		fmt.Fprintf(out, "read with the bike card %q; --bike chooses another\n", plain.Text(set.Bike.Name))
	}
	if err := sumUp(out, std.Err, sum, sess, name, o.JSON); err != nil {
		return err
	}
	return out.Flush()
}

// analyse runs an input through a session.
func analyse(ctx context.Context, cfg session.Config, in *capture.Input, o *AnalyseOptions, out *bufio.Writer) (*session.Summary, *session.Session, error) {
	var ambient pressure.KPa
	sum := session.NewSummary(func() pressure.KPa { return ambient })
	sess := session.New(cfg, session.Options{Bits: o.Bits, OnReading: func(rd *balance.Reading, c *session.Chain) {
		cfg := c.Config()
		ambient = cfg.Ambient
		sum.Push(rd)
		if o.JSON {
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

// stateOrder is the order in which channel states are listed.
var stateOrder = []cycle.State{cycle.OK, cycle.NoPulse, cycle.Ambient, cycle.WeakPulse, cycle.RailLow, cycle.RailHigh, cycle.Stale}

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
