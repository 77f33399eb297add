package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"evendraw/internal/balance"
	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

type zeroOptions struct {
	port   portOptions
	from   string
	json   bool
	bits   int
	sensor string
}

func newZeroCommand(r *rig) *cobra.Command {
	o := &zeroOptions{}
	cmd := &cobra.Command{
		Use:   "zero",
		Short: "Learn each sensor's offset with the engine off",
		Long: `Learn each sensor's offset. The engine must be off and every hose open to the
air. Five seconds; the result is kept on the board's card. It is refused, with
the reason, when a pressure pulses, drifts or stands at an end of its range.`,
		Example: `  evendraw zero
  evendraw zero --from engine-off.cap --json`,
		Args: usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runZero(cmd.Context(), r, o, cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	o.port.addFlags(cmd.Flags())
	cmd.Flags().StringVar(&o.from, "from", "", "take the pass from a capture or a table instead (- is standard input)")
	cmd.Flags().BoolVar(&o.json, "json", false, "print JSON")
	cmd.Flags().IntVar(&o.bits, "bits", 10, "converter bits of a table of counts, 10 to 16")
	cmd.Flags().StringVar(&o.sensor, "sensor", "", "kind of the sensors of a table of counts or volts")
	return cmd
}

func runZero(ctx context.Context, r *rig, o *zeroOptions, stdin io.Reader, out, errOut io.Writer) error {
	if err := r.open(); err != nil {
		return err
	}
	pass := &zeroPass{rig: r}
	var err error
	if o.from != "" {
		err = pass.fromFile(ctx, o, stdin)
	} else {
		err = pass.live(ctx, o, errOut)
	}
	if err != nil {
		return err
	}
	return pass.tell(out, errOut, o.json)
}

// zeroPass is a zero pass being taken.
type zeroPass struct {
	rig   *rig
	sess  *session.Session
	board *frame.Announcement
	save  bool // on the board's card
}

// live takes the pass from the board.
func (z *zeroPass) live(ctx context.Context, o *zeroOptions, errOut io.Writer) error {
	fmt.Fprintln(errOut, "zero pass: engine off, every hose open to the air")
	link, err := o.port.open(ctx, nil)
	if err != nil {
		return err
	}
	defer link.Close()
	z.board, z.save = link.Board(), true
	return z.run(ctx, session.Config{BankOf: z.config}, func(ctx context.Context) error { return z.sess.Run(ctx, link) }, o.bits)
}

// fromFile takes the pass from a capture or a table.
func (z *zeroPass) fromFile(ctx context.Context, o *zeroOptions, stdin io.Reader) error {
	in, file, err := openInput(o.from, stdin)
	if err != nil {
		return err
	}
	defer file.Close()
	cfg, err := z.rig.inputConfig(in, o.sensor)
	if err != nil {
		return err
	}
	cfg.Bank = nil
	if cfg.BankOf != nil {
		cfg.BankOf = z.config
	}
	z.save = in.Table == nil
	return z.run(ctx, cfg, func(ctx context.Context) error {
		if in.Table != nil {
			return z.sess.RunTable(ctx, in.Table)
		}
		return z.sess.Run(ctx, in.Bytes)
	}, o.bits)
}

// config is the rig's, for every pressure channel of the board, whatever the
// bike has.
func (z *zeroPass) config(a *frame.Announcement) session.Config {
	cfg := z.rig.config(a)
	cfg.Bank = nil
	return cfg
}

// run runs the session until the pass is over.
func (z *zeroPass) run(ctx context.Context, cfg session.Config, read func(context.Context) error, bits int) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	over := errors.New("the pass is over")
	cfg.Reference = 1
	begun := false
	z.sess = session.New(cfg, session.Options{Bits: bits, OnReading: func(_ *balance.Reading, c *session.Chain) {
		switch {
		case !begun:
			begun = true
			c.StartZero()
		case !c.ZeroState().Running:
			stop(over)
		}
	}})
	err := read(ctx)
	if err != nil && !errors.Is(err, over) && context.Cause(ctx) != over {
		return err
	}
	z.sess.Chain(func(c *session.Chain) { c.EndZero() })
	if a := z.sess.Snapshot().Board; a != nil {
		z.board = a
	}
	return nil
}

// tell prints the result, and keeps it.
func (z *zeroPass) tell(out, errOut io.Writer, asJSON bool) error {
	var state session.ZeroState
	var cfg session.Config
	z.sess.Chain(func(c *session.Chain) { state, cfg = c.ZeroState(), c.Config() })
	if state.Result == nil {
		err := state.Err
		if err == nil {
			err = fmt.Errorf("no frames to take a zero pass from")
			if z.sess.Snapshot().Link.Frames == 0 {
				return &capture.Error{Problem: err.Error()}
			}
		}
		if asJSON {
			tellRefusal(out, err)
		}
		return &hinted{err, "engine off, all hoses open to the air and at rest; then once more"}
	}
	saved := ""
	if z.save && z.board != nil {
		if err := keepZero(z.rig.garage, z.board, &cfg, state.Result, time.Now()); err != nil {
			fmt.Fprintln(errOut, "evendraw: the zero pass could not be kept: "+printable(err.Error()))
		} else {
			saved, _ = z.rig.garage.BoardPath(z.board.Serial)
		}
	}
	if asJSON {
		return tellZeroJSON(out, z.board, state.Result, saved)
	}
	tellZeroText(out, state.Result, saved)
	return nil
}

func tellZeroText(out io.Writer, zr *sensor.Zero, saved string) {
	fmt.Fprintf(out, "zero: common air pressure %.2f kPa, from %d samples in %.1f s\n", float64(zr.Ambient), zr.Samples, zr.Seconds)
	for i, o := range zr.Offsets {
		fmt.Fprintf(out, "  channel %d  offset %+.3f kPa ±%.3f\n", i, float64(o), float64(zr.Uncertainty[i]))
	}
	if saved != "" {
		fmt.Fprintln(out, "kept in", saved)
	}
}

func tellZeroJSON(out io.Writer, a *frame.Announcement, zr *sensor.Zero, saved string) error {
	serial := ""
	if a != nil {
		serial = a.Serial
	}
	return json.NewEncoder(out).Encode(struct {
		Board       string         `json:"board"`
		Ambient     pressure.KPa   `json:"ambient_kpa"`
		Offsets     []pressure.KPa `json:"offsets_kpa"`
		Uncertainty []pressure.KPa `json:"uncertainty_kpa"`
		Samples     int            `json:"samples"`
		Seconds     float64        `json:"seconds"`
		Saved       string         `json:"saved,omitempty"`
	}{serial, zr.Ambient, zr.Offsets, zr.Uncertainty, zr.Samples, zr.Seconds, saved})
}

func tellRefusal(out io.Writer, err error) {
	channel, reason := -1, err.Error()
	var r *sensor.Refusal
	if errors.As(err, &r) {
		channel, reason = r.Reasoned()
	}
	json.NewEncoder(out).Encode(map[string]any{"refused": map[string]any{"channel": channel, "reason": reason, "text": view.Refusal(err)}})
}

// keepZero writes a zero pass on the board's card.
func keepZero(g *garage.Garage, a *frame.Announcement, cfg *session.Config, zr *sensor.Zero, now time.Time) error {
	card, err := g.LoadBoard(a.Serial)
	if err != nil {
		return err
	}
	if card.Model == "" {
		card.Model = a.Model
	}
	kinds := kindsOf(&cfg.Setup, len(a.Channels))
	if len(card.Sensors) == 0 {
		card.Sensors = kinds
	}
	return g.SaveZero(&card, &garage.ZeroCard{Time: now, AmbientKPa: zr.Ambient, OffsetsKPa: zr.Offsets,
		UncertaintyKPa: zr.Uncertainty, Samples: zr.Samples, Sensors: kinds})
}
