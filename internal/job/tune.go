package job

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/garage"
	"evendraw/internal/heat"
	"evendraw/internal/hint"
	"evendraw/internal/keep"
	"evendraw/internal/keyhelp"
	"evendraw/internal/mixture"
	"evendraw/internal/pilotwords"
	"evendraw/internal/practice"
	"evendraw/internal/pressure"
	"evendraw/internal/raised"
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
	return runStage(ctx, set, o, std, tell.MixtureCautions, func(l *live) *stage { return l.trimming(o) })
}

// trimming is the trim as a stage of a run.
func (l *live) trimming(o *TuneOptions) *stage {
	stand := l.pilotsStand() // reads the disk: before the frames come
	return &stage{
		begin: func(c *session.Chain) error {
			cfg, err := l.trimConfig(&o.Trim, c.Bank().Cylinders, stand)
			if err != nil {
				return err
			}
			return c.StartTrim(cfg)
		},
		first: func(rd *balance.Reading) string {
			aim, _ := l.set.Limits()
			return pilotwords.NotLevel(rd, aim, l.set.Unit())
		},
		tells: func(t *session.Tune) bool { return t.Trim != nil },
		json:  tell.TrimJSON,
		words: func(t *session.Tune) view.Words {
			w := view.TrimWords(t.Trim, &t.Idle)
			if t.Lambda != nil {
				w.Say = append(w.Say, pilotwords.ProbeLine(t.Lambda, o.Trim.Config.Target))
			}
			return w
		},
		done:    func(t *session.Tune) bool { return t.Trim.Step == mixture.StepAllSet },
		outcome: func(t *session.Tune) { l.tellTrim(t.Trim) },
		keep:    func(t *session.Tune) error { return l.keepTrim(t.Trim) },
		hand:    l.pilotHand,
		keys: "Enter: the turn is made; made 3/4: another amount was; was 0: the turn that you said was made before " +
			"it was not; q leaves.",
		hands: practice.TrimHands,
	}
}

// tellTrim tells what a trim has come to.
func (l *live) tellTrim(s *mixture.TrimState) {
	if !l.opt.JSON {
		for _, line := range append(pilotwords.Lines(s), pilotwords.Warnings(s)...) {
			fmt.Fprintln(l.std.Out, line)
		}
		if s.Step == mixture.StepAllSet {
			fmt.Fprintln(l.std.Out, "Look at the levelling again (evendraw live): the trim moves it.")
		}
	}
	if p := l.practice(); p != nil {
		fmt.Fprintln(l.std.Err, p.Truth(s))
	}
}

// keepTrim keeps what a trim has come to; that of a practice engine is nobody's.
func (l *live) keepTrim(s *mixture.TrimState) error {
	if l.practice() != nil {
		return nil
	}
	if !slices.ContainsFunc(s.Pilots[:s.Cylinders], func(p mixture.Pilot) bool { return p.Found.Final() }) {
		fmt.Fprintln(l.std.Err, "left before a screw was done: nothing is saved")
		return nil
	}
	l.keeper.Remark("after trimming the pilot screws")
	return l.save()
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

// pilotHand returns what a virtual hand at the pilot screws does before each read.
func (l *live) pilotHand(p *practice.Bike) (before func()) {
	hand := p.PilotHand()
	errOut := l.std.Err
	hand.Enter = func() { l.turnMade(errOut) }
	return func() {
		now := p.Engine.Truth().TimeS
		if hand.Pass(now); !hand.Away() {
			hand.Look(now, &l.sess.Snapshot().Tune)
		}
	}
}

// turnMade tells that the hand has made the turn that was told.
func (l *live) turnMade(errOut io.Writer) {
	made := true
	if l.sess.Chain(func(c *session.Chain) { made = c.TrimMade() }); !made {
		fmt.Fprintln(errOut, tell.TooSoon)
	}
}

// LookRaised reads the bank at idle and at a raised speed.
func LookRaised(ctx context.Context, set *settings.Settings, o *TuneOptions, std settings.Streams) error {
	return runStage(ctx, set, o, std, tell.RaisedCautions, func(l *live) *stage { return l.raising(o.RPM) })
}

// raising is the look at the raised speed as a stage of a run; an rpm of 0 is the card's, else the usual.
func (l *live) raising(rpm float64) *stage {
	var screws []string
	words := func(t *session.Tune) view.Words { return view.RaisedWords(t.Raised, screws, l.set.Unit()) }
	return &stage{
		begin: func(c *session.Chain) error {
			aim, _ := l.set.Limits()
			b := c.Bank()
			screws = b.ScrewNames(bank.AllScrews)
			return c.StartRaised(raised.Config{RPM: cmp.Or(rpm, l.raisedRPM()),
				Limit: pilotwords.NotLevelAims * aim})
		},
		tells: func(t *session.Tune) bool { return t.Raised != nil },
		json: func(t *session.Tune, h *heat.State, now float64) []byte {
			return tell.RaisedJSON(t.Raised, h, now, screws)
		},
		words: words,
		done:  func(t *session.Tune) bool { return t.Raised.Done },
		outcome: func(t *session.Tune) {
			l.keeper.RaisedTold()
			if t.Raised.Done && !l.opt.JSON {
				for _, line := range words(t).Say {
					fmt.Fprintln(l.std.Out, keyhelp.Lines(line))
				}
			}
			if t.Raised.Done || t.Raised.HeldS > 0 { // also of one that is left there
				fmt.Fprintln(l.prose(), "Now let go of the throttle.")
			}
		},
		hand:  l.pilotHand,
		keys:  onlyLeaves,
		hands: practice.RaisedHands,
	}
}

// Leaks watches for an air leak until it is left.
func Leaks(ctx context.Context, set *settings.Settings, o *TuneOptions, std settings.Streams) error {
	if o.Practice == practice.Fresh {
		o.Practice = practice.Leaking
	}
	return runStage(ctx, set, o, std, tell.AirCautions, (*live).leaking)
}

// leaking is the watch for an air leak as a stage of a run.
func (l *live) leaking() *stage {
	return &stage{
		begin: func(c *session.Chain) error {
			c.WatchAir(true)
			return nil
		},
		tells: func(t *session.Tune) bool { return t.Air != nil },
		json: func(t *session.Tune, h *heat.State, now float64) []byte {
			return tell.AirJSON(t.Air, h, now)
		},
		words: func(t *session.Tune) view.Words { return view.AirWords(t.Air) },
		done:  func(*session.Tune) bool { return false },
		outcome: func(t *session.Tune) {
			if !l.opt.JSON {
				fmt.Fprintln(l.std.Out, tell.AirFound(t.Air))
			}
		},
		hand:  wettingHand,
		keys:  onlyLeaves,
		hands: practice.LeakHands,
	}
}

// onlyLeaves says what is typed where nothing is confirmed.
const onlyLeaves = "q leaves."

// wettingHand wets the practice bike's joints one after another.
func wettingHand(p *practice.Bike) (before func()) {
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
			err = c.StartRaised(raised.Config{RPM: l.raisedRPM(), Limit: pilotwords.NotLevelAims * aim})
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
	if s := l.set; s.Bike != nil && (l.src.own() == keep.Bike || l.practice() != nil && s.Named) {
		return s.Bike.RaisedRPM
	}
	return 0
}

// correctTurn is correctTrim of a typed amount, with a minus for the other way: of the turn that is told, or of the one
// that was said to be made before.
func (l *live) correctTurn(text string, said bool) view.Event {
	amount, other := strings.CutPrefix(strings.TrimSpace(text), "-")
	turns, err := garage.ParseTurns(amount)
	if err != nil {
		return view.Told{Text: err.Error(), Role: view.Warn}
	}
	if other {
		turns = -turns
	}
	return l.correctTrim(map[bool]int{false: mixture.TurnTold, true: mixture.TurnSaid}[said], turns)
}

// mostCorrected is how many turns a hand may say that it has made instead of those told. Chosen: more than any that is
// told; what lies beyond is a slip of the finger, which would lead the needle far through its seat.
const mostCorrected = 4.5

// correctTrim takes the user's word for how far a turn of a pilot screw really was.
func (l *live) correctTrim(number int, turns float64) view.Event {
	if math.Abs(turns) > mostCorrected {
		return tell.TooManyTurns(turns, false)
	}
	past, ok := false, false
	l.sess.Chain(func(c *session.Chain) {
		if past = c.PastSeat(number, turns); !past {
			ok = c.CorrectTrim(number, turns)
		}
	})
	if past {
		return tell.TooManyTurns(turns, true)
	}
	return tell.Corrected(turns, ok)
}
