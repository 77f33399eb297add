package desk

import (
	"bufio"
	"context"
	"fmt"
	"io"

	"evendraw/internal/balance"
	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

// AnalyseOptions are what the command line says of an analysis.
type AnalyseOptions struct {
	JSON   bool
	Table  settings.TableOptions
	MinRPM float64 // slowest speed to look for; 0 is the usual
	MaxRPM float64 // fastest
}

// Analyse says what a capture or a table holds, as fast as the machine goes.
func Analyse(ctx context.Context, set *settings.Settings, o *AnalyseOptions, name string, std settings.Streams) error {
	in, file, err := settings.OpenInput(ctx, name, std.In)
	if err != nil {
		return err
	}
	defer file.Close()
	notes := settings.Notes{Tell: std.Warn}
	cfg, err := set.InputConfig(in, &o.Table, &notes)
	if err != nil {
		return err
	}
	if in.Table != nil && in.Table.Quantity == capture.KPa && !cfg.Zeroed && len(in.Head) == 0 {
		std.Warn("a table in kPa does not say whether its sensors were zeroed; if they were, say so with --zeroed")
	}
	cfg.MinRPM, cfg.MaxRPM = o.MinRPM, o.MaxRPM
	out := bufio.NewWriterSize(std.Out, 64<<10)
	sum, sess, err := analyse(ctx, cfg, in, o, out)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	sess.Chain(func(c *session.Chain) {
		if a, cfg := sess.Snapshot().Board, c.Config(); a != nil {
			notes.Once(settings.LeftAside(a, &cfg))
		}
	})
	if n := in.CutShort(); n > 0 {
		fmt.Fprintf(std.Err, "%s ends in the middle of a frame: its last %d bytes were ignored\n", name, n)
	}
	u := pressure.Kilopascal
	if cfg.BankOf != nil && set.Bike != nil && !o.JSON {
		u = set.Unit()
		fmt.Fprintf(out, "read with the bike card %q; --bike chooses another\n", plain.Text(set.Bike.Name))
	}
	if err := sumUp(out, std.Err, sum, sess, name, u, o.JSON); err != nil {
		return err
	}
	return out.Flush()
}

// analyse runs an input through a session.
func analyse(ctx context.Context, cfg session.Config, in *capture.Input, o *AnalyseOptions,
	out *bufio.Writer) (*session.Summary, *session.Session, error) {
	var ambient pressure.KPa
	sum := session.NewSummary(func() pressure.KPa { return ambient })
	bits := o.Table.Bits
	sess := session.New(cfg, session.Options{Bits: bits, OnReading: func(rd *balance.Reading, c *session.Chain) {
		cfg := c.Config()
		ambient = cfg.Ambient
		sum.Push(rd)
		if o.JSON {
			out.Write(append(tell.AppendReading(out.AvailableBuffer(), rd, c.Link(), &cfg, true), '\n'))
		}
	}})
	defer sum.Finish()
	return sum, sess, sess.RunRecording(ctx, in)
}

// sumUp prints the summary; an input without a single frame is an error.
func sumUp(out, errOut io.Writer, sum *session.Summary, sess *session.Session, name string,
	u pressure.Unit, asJSON bool) error {
	link := sess.Snapshot().Link
	var still *frame.Standstill
	sess.Chain(func(c *session.Chain) { still = c.Standstill() })
	switch {
	case still != nil && still.Refused > link.Frames:
		return fmt.Errorf("%s: %w", name, &capture.Error{Problem: still.Error()})
	case still != nil:
		(&settings.Streams{Err: errOut}).Warn(name + ", at its end: " + still.Error())
	}
	if link.Frames == 0 {
		err := settings.NoFrame(sess.Snapshot().Board, link.Unannounced)
		if why := sess.Snapshot().Err; why != nil {
			err = &capture.Error{Problem: why.Error()}
		}
		return fmt.Errorf("%s: %w", name, err)
	}
	sess.Chain(func(c *session.Chain) {
		cfg := c.Config()
		if asJSON {
			out.Write(tell.SummaryJSON(sum, c))
			out.Write([]byte("\n"))
			if cfg.AmbientFrom != session.FromZeroPass {
				fmt.Fprintln(errOut, tell.AmbientNote(&cfg))
			}
			return
		}
		tell.Summary(out, sum, c, u)
	})
	return nil
}
