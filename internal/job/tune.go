package job

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"evendraw/internal/balance"
	"evendraw/internal/garage"
	"evendraw/internal/heat"
	"evendraw/internal/hint"
	"evendraw/internal/keyhelp"
	"evendraw/internal/mixture"
	"evendraw/internal/pilotwords"
	"evendraw/internal/practice"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

// TrimFlags are what the command line says of a trim. Config's Screws, TurnsOut and Target are
// filled in by the bike's card and its last bench card where they are not given.
type TrimFlags struct {
	Config   mixture.TrimConfig
	TurnsOut string // as typed, with commas; "" is not given
}

// Trim trims the pilot screws.
func Trim(ctx context.Context, set *settings.Settings, o *TuneOptions, std settings.Streams) error {
	return runStage(ctx, set, o, std, tell.MixtureCautions, func(l *live) stage {
		return &trimming{live: l, opt: o, stand: l.pilotsStand()}
	})
}

// pilotsStand is where the pilot screws stand, turns out by cylinder - 1, as far as it is noted: those of a
// practice bike are counted in.
func (l *live) pilotsStand() []float64 {
	switch p := l.practice(); {
	case p != nil:
		return p.Counted()
	case l.set.Bike != nil:
		return l.set.Garage.PilotsOut(l.set.Bike.Name)
	}
	return nil
}

// trimConfig returns a trim's settings, from what is given and the card, of screws that stand so.
func (l *live) trimConfig(f *TrimFlags, cylinders int, stand []float64) (mixture.TrimConfig, error) {
	c := f.Config
	c.TurnsOut = stand
	switch s := l.set; {
	case l.practice() != nil:
		c.Screws = cmp.Or(c.Screws, mixture.FuelScrews)
	case s.Bike != nil:
		c.Screws = cmp.Or(c.Screws, mixture.Screws(s.Bike.PilotScrews))
		c.Target = cmp.Or(c.Target, s.Bike.LambdaTarget)
	}
	if f.TurnsOut != "" {
		var err error
		if c.TurnsOut, err = garage.ParseTurnsOut(f.TurnsOut, cylinders); err != nil {
			return c, hint.Usagef("--turns-out: %w", err)
		}
	}
	for _, cyl := range c.Only {
		if cyl < 1 || cyl > cylinders {
			return c, hint.Usagef("--cylinder %d: there are %d", cyl, cylinders)
		}
	}
	return c, nil
}

// trimming is the trim as a stage of a run.
type trimming struct {
	*live
	opt   *TuneOptions
	stand []float64 // of the pilot screws, read from the disk before the frames come
}

func (t *trimming) begin(c *session.Chain) error {
	cfg, err := t.trimConfig(&t.opt.Trim, c.Bank().Cylinders, t.stand)
	if err != nil {
		return err
	}
	return c.StartTrim(cfg)
}

func (t *trimming) first(rd *balance.Reading) string {
	aim, _ := t.set.Limits()
	return view.NotLevel(rd, aim, t.set.Unit())
}

func (t *trimming) tells(tune *session.Tune) bool { return tune.Trim != nil }

func (t *trimming) json(tune *session.Tune, h *heat.State, now float64) []byte {
	return tell.TrimJSON(tune, h, now)
}

func (t *trimming) words(tune *session.Tune) view.Words {
	w := view.TrimWords(tune.Trim, &tune.Idle)
	if tune.Lambda != nil {
		w.Say = append(w.Say, pilotwords.ProbeLine(tune.Lambda, t.opt.Trim.Config.Target))
	}
	return w
}

func (t *trimming) done(tune *session.Tune) bool { return tune.Trim.Step == mixture.StepAllSet }

func (t *trimming) close(tune *session.Tune) error {
	s := tune.Trim
	if !t.opt.JSON {
		for _, line := range append(pilotwords.Lines(s), pilotwords.Warnings(s)...) {
			fmt.Fprintln(t.std.Out, line)
		}
		if t.done(tune) {
			fmt.Fprintln(t.std.Out, "Look at the levelling again (evendraw live): the trim moves it.")
		}
	}
	if p := t.practice(); p != nil {
		fmt.Fprintln(t.std.Err, p.Truth(s))
		return nil
	}
	if !slices.ContainsFunc(s.Pilots[:s.Cylinders], func(p mixture.Pilot) bool { return p.Found.Final() }) {
		fmt.Fprintln(t.std.Err, "left before a screw was done: nothing is saved")
		return nil
	}
	t.keeper.remark("after trimming the pilot screws")
	return t.save()
}

// LookRaised reads the bank at idle and at a raised speed.
func LookRaised(ctx context.Context, set *settings.Settings, o *TuneOptions, std settings.Streams) error {
	return runStage(ctx, set, o, std, tell.RaisedCautions, func(l *live) stage { return &raising{live: l, rpm: o.RPM} })
}

// raising is the look at the raised speed as a stage of a run.
type raising struct {
	*live
	rpm    float64 // 0 is the card's, else the usual
	screws []string
}

func (t *raising) begin(c *session.Chain) error {
	aim, _ := t.set.Limits()
	b := c.Bank()
	t.screws = tell.ScrewNames(&b)
	return c.StartRaised(mixture.RaisedConfig{RPM: cmp.Or(t.rpm, t.raisedRPM()), Limit: view.NotLevelAims * aim})
}

func (t *raising) first(*balance.Reading) string { return "" }

func (t *raising) tells(tune *session.Tune) bool { return tune.Raised != nil }

func (t *raising) json(tune *session.Tune, h *heat.State, now float64) []byte {
	return tell.RaisedJSON(tune.Raised, h, now, t.screws)
}

func (t *raising) words(tune *session.Tune) view.Words {
	return view.RaisedWords(tune.Raised, t.screws)
}

func (t *raising) done(tune *session.Tune) bool { return tune.Raised.Done }

func (t *raising) close(tune *session.Tune) error {
	t.keeper.raisedTold()
	out := t.std.Out
	if t.opt.JSON {
		out = t.std.Err
	} else if t.done(tune) {
		for _, line := range t.words(tune).Say {
			fmt.Fprintln(out, keyhelp.Lines(line))
		}
	}
	if t.done(tune) || tune.Raised.HeldS > 0 { // also of one that is left there
		fmt.Fprintln(out, "Now let go of the throttle.")
	}
	return nil
}

// Leaks watches for an air leak until it is left.
func Leaks(ctx context.Context, set *settings.Settings, o *TuneOptions, std settings.Streams) error {
	if o.Practice == practice.Fresh {
		o.Practice = practice.Leaking
	}
	return runStage(ctx, set, o, std, tell.AirCautions, func(l *live) stage { return &leaking{l} })
}

// leaking is the watch for an air leak as a stage of a run.
type leaking struct{ *live }

func (t *leaking) begin(c *session.Chain) error {
	c.WatchAir(true)
	return nil
}

func (t *leaking) first(*balance.Reading) string { return "" }

func (t *leaking) tells(tune *session.Tune) bool { return tune.Air != nil }

func (t *leaking) json(tune *session.Tune, h *heat.State, now float64) []byte {
	return tell.AirJSON(tune.Air, h, now)
}

func (t *leaking) words(tune *session.Tune) view.Words { return view.AirWords(tune.Air) }

func (t *leaking) done(*session.Tune) bool { return false }

func (t *leaking) close(tune *session.Tune) error {
	if !t.opt.JSON {
		fmt.Fprintln(t.std.Out, tell.AirFound(tune.Air))
	}
	return nil
}

// hand wets the practice bike's joints one after another.
func (t *leaking) hand(p *practice.Bike) (before func()) {
	next, joint := practice.FirstWetS, 0
	return func() {
		if now := p.Engine.Truth().TimeS; now >= next {
			next = now + practice.WetEveryS
			joint = joint%p.Bank.Cylinders + 1
			p.Do(view.Want{Kind: view.WetJoint, Cylinder: joint})
		}
	}
}

// tune does what the steps after levelling ask of the session.
func (l *live) tune(kind view.WantKind, aim pressure.KPa) (err error) {
	if kind == view.LookLevel {
		l.sess.AskAnew()
		return nil
	}
	var trim mixture.TrimConfig
	if kind == view.TrimPilots || kind == view.TrimAnew { // which reads the disk: not while the frames wait
		// A screen has no flags that could be wrong.
		trim, _ = l.trimConfig(&TrimFlags{}, l.sess.Snapshot().Bank.Cylinders, l.pilotsStand())
	}
	made := true
	l.sess.Chain(func(c *session.Chain) {
		switch kind {
		case view.LookIdle:
			c.RestartIdle()
		case view.LookRaised:
			err = c.StartRaised(mixture.RaisedConfig{RPM: l.raisedRPM(), Limit: view.NotLevelAims * aim})
		case view.TrimPilots:
			err = c.StartTrim(trim)
		case view.TrimAnew:
			c.TrimAnew()
			err = c.StartTrim(trim)
		case view.PilotsBack:
			c.PutPilotsBack()
		case view.TrimMade:
			made = c.TrimMade()
		case view.EndTune:
			c.StopTrim()
			c.StopRaised()
		}
	})
	switch {
	case err != nil:
		return fmt.Errorf("not yet: no frames come")
	case !made:
		return fmt.Errorf("%s", tell.TooSoon)
	}
	return nil
}

// raisedRPM is the speed of the raised-speed look, 0 for the usual.
func (l *live) raisedRPM() float64 {
	own := l.src.own()
	if l.set.Bike != nil && (own == recordBike || own == recordPractice && l.set.Named) {
		return l.set.Bike.RaisedRPM
	}
	return 0
}

// correctTurn is correctTrim of a typed amount, with a minus for the other way.
func (l *live) correctTurn(text string) view.Event {
	amount, other := strings.CutPrefix(strings.TrimSpace(text), "-")
	turns, err := garage.ParseTurns(amount)
	if err != nil {
		return view.Told{Text: err.Error(), Role: view.Warn}
	}
	if other {
		turns = -turns
	}
	return l.correctTrim(turns)
}

// mostCorrected is how many turns a hand may say that it has made instead of those told. Chosen: more than any that is
// told; what lies beyond is a slip of the finger, which would lead the needle far through its seat.
const mostCorrected = 4.5

// correctTrim takes the user's word for how far the last turn of a pilot screw really was.
func (l *live) correctTrim(turns float64) view.Event {
	ok := false
	if math.Abs(turns) > mostCorrected {
		return tell.TooManyTurns(turns)
	}
	l.sess.Chain(func(c *session.Chain) { ok = c.CorrectTrim(turns) })
	return tell.Corrected(turns, ok)
}
