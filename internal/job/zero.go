package job

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/practice"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// Zero learns each sensor's offset, with the engine off.
func Zero(ctx context.Context, set *Settings, o *PassOptions, std Streams) error {
	p := newPass(set, o, std, func(c *session.Chain) error { c.StartZero(); return nil })
	p.end, p.over = (*session.Chain).EndZero, func(c *session.Chain) bool { return !c.ZeroState().Running }
	var err error
	switch {
	case o.From != "":
		err = p.file(ctx)
	case o.Practice != "":
		err = p.practiceZero(ctx)
	default:
		fmt.Fprintln(std.Err, "zero pass: engine off, every hose open to the air")
		err = p.live(ctx)
	}
	if err != nil {
		return err
	}
	return p.tellZero()
}

// practiceZero takes the pass from a practice engine that stands.
func (p *pass) practiceZero(ctx context.Context) error {
	pr, err := p.set.practiceBike(practice.Options{Name: p.opt.Practice, Ambient: p.set.Ambient})
	if err != nil {
		return err
	}
	fmt.Fprint(p.std.Err, pr.Story())
	p.note = "practice: nothing is kept"
	return p.run(ctx, pr.Config(), func(ctx context.Context) error { return p.sess.Run(ctx, pr.Engine) })
}

// tellZero prints the result, and keeps it.
func (p *pass) tellZero() error {
	var state session.ZeroState
	var cfg session.Config
	p.sess.Chain(func(c *session.Chain) { state, cfg = c.ZeroState(), c.Config() })
	if state.Result == nil {
		return p.refused(state.Err, view.Refusal, "engine off, all hoses open to the air and at rest; then once more")
	}
	var last time.Time
	if p.board != nil {
		if card, err := p.set.Garage.LoadBoard(p.board.Serial); err == nil && card.Zero != nil {
			last = card.Zero.Time
		}
	}
	saved := p.keep("zero pass", last, func() error { return keepZero(p.set.Garage, p.board, &cfg, state.Result, p.when) })
	if note := p.set.ambientDoubt(state.Result.Ambient); note != "" {
		p.std.Warn(note)
	}
	if p.opt.JSON {
		return tellZeroJSON(p.std.Out, p.serial(), state.Result, saved)
	}
	tellZeroText(p.std.Out, state.Result, saved)
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
