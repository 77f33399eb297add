package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

func newZeroCommand(r *rig) *cobra.Command {
	o := &passOptions{}
	cmd := &cobra.Command{
		Use:   "zero",
		Short: "Learn each sensor's offset with the engine off",
		Long: `Learn each sensor's offset. The engine must be off and every hose open to the
air. Five seconds, more where a channel still settles; the result is kept on the
board's card, with those before it. It is refused, with the reason, when a
pressure pulses, drifts, is noisy or stands at an end of its range, or when a
sensor is further off than its data sheet allows.

From a capture, the pass bears the date at which that was recorded.`,
		Example: `  evendraw zero
  evendraw zero --from engine-off.cap --json
  evendraw zero --practice`,
		Args: usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runZero(cmd.Context(), r, o, cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	o.addFlags(r, cmd.Flags())
	return cmd
}

func runZero(ctx context.Context, r *rig, o *passOptions, stdin io.Reader, out, errOut io.Writer) error {
	if err := o.check(); err != nil {
		return err
	}
	if err := r.open(); err != nil {
		return err
	}
	p := &pass{rig: r, opt: o, begin: func(c *session.Chain) error { c.StartZero(); return nil }, end: (*session.Chain).EndZero,
		over: func(c *session.Chain) bool { return !c.ZeroState().Running }}
	var err error
	switch {
	case o.from != "":
		err = p.file(ctx, stdin)
	case o.practice != "":
		err = p.practiceZero(ctx, errOut)
	default:
		fmt.Fprintln(errOut, "zero pass: engine off, every hose open to the air")
		err = p.live(ctx)
	}
	if err != nil {
		return err
	}
	return p.tellZero(out, errOut)
}

// practiceZero takes the pass from a practice engine that stands.
func (p *pass) practiceZero(ctx context.Context, errOut io.Writer) error {
	pr, err := newPractice(p.rig, p.opt.practice, false)
	if err != nil {
		return err
	}
	fmt.Fprint(errOut, pr.told())
	p.note = "practice: nothing is kept"
	return p.run(ctx, pr.config(), func(ctx context.Context) error { return p.sess.Run(ctx, pr.engine) })
}

// tellZero prints the result, and keeps it.
func (p *pass) tellZero(out, errOut io.Writer) error {
	var state session.ZeroState
	var cfg session.Config
	p.sess.Chain(func(c *session.Chain) { state, cfg = c.ZeroState(), c.Config() })
	if state.Result == nil {
		return p.refused(state.Err, view.Refusal, "engine off, all hoses open to the air and at rest; then once more", out)
	}
	var last time.Time
	if p.board != nil {
		if card, err := p.rig.garage.LoadBoard(p.board.Serial); err == nil && card.Zero != nil {
			last = card.Zero.Time
		}
	}
	saved := p.keep("zero pass", last, func() error { return keepZero(p.rig.garage, p.board, &cfg, state.Result, p.when) }, errOut)
	if note := p.rig.ambientDoubt(state.Result.Ambient); note != "" {
		fmt.Fprintln(errOut, "evendraw: "+note)
	}
	if p.opt.json {
		return tellZeroJSON(out, p.serial(), state.Result, saved)
	}
	tellZeroText(out, state.Result, saved)
	return nil
}

func tellZeroText(out io.Writer, zr *sensor.Zero, saved string) {
	fmt.Fprintf(out, "zero: common air pressure %.2f kPa, from %d samples in %.1f s\n", float64(zr.Ambient), zr.Samples, zr.Seconds)
	for i, o := range zr.Offsets {
		fmt.Fprintf(out, "  channel %d  offset %+.3f kPa ±%.3f  noise %.3f\n", i, float64(o), float64(zr.Uncertainty[i]), float64(zr.Noise[i]))
	}
	if saved != "" {
		fmt.Fprintln(out, "kept in", saved)
	}
}

func tellZeroJSON(out io.Writer, serial string, zr *sensor.Zero, saved string) error {
	return json.NewEncoder(out).Encode(struct {
		Board       string         `json:"board"`
		Ambient     pressure.KPa   `json:"ambient_kpa"`
		Offsets     []pressure.KPa `json:"offsets_kpa"`
		Uncertainty []pressure.KPa `json:"uncertainty_kpa"`
		Noise       []pressure.KPa `json:"noise_kpa"`
		Samples     int            `json:"samples"`
		Seconds     float64        `json:"seconds"`
		Saved       string         `json:"saved,omitempty"`
	}{serial, zr.Ambient, zr.Offsets, zr.Uncertainty, zr.Noise, zr.Samples, zr.Seconds, saved})
}

// keepZero writes a zero pass on the board's card.
func keepZero(g *garage.Garage, a *frame.Announcement, cfg *session.Config, zr *sensor.Zero, when time.Time) error {
	card, kinds, err := cardFor(g, a, cfg)
	if err != nil {
		return err
	}
	return g.SaveZero(&card, &garage.ZeroCard{Time: when, AmbientKPa: zr.Ambient, OffsetsKPa: zr.Offsets,
		UncertaintyKPa: zr.Uncertainty, NoiseKPa: zr.Noise, Samples: zr.Samples, Bits: a.Bits, Sensors: kinds})
}

// cardFor returns the board's card, or a new one, and the kinds of sensors in force.
func cardFor(g *garage.Garage, a *frame.Announcement, cfg *session.Config) (garage.Board, []string, error) {
	card, err := g.LoadBoard(a.Serial)
	if err != nil {
		return card, nil, err
	}
	if card.Model == "" {
		card.Model = a.Model
	}
	kinds := kindsOf(&cfg.Setup, len(a.Channels))
	if len(card.Sensors) == 0 {
		card.Sensors = kinds
	}
	return card, kinds, nil
}
