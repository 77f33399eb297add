package commission

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"time"

	"evendraw/internal/board"
	"evendraw/internal/engine"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/practice"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
	"evendraw/internal/typing"
	"evendraw/internal/view"
)

// setup is the dialogue.
type setup struct {
	*typing.Dialogue
	set      *settings.Settings
	card     garage.Board
	board    *frame.Announcement
	pressure []int // pressure channels
	sampler  *sampler
	practice *engine.Engine // nil with a real board
}

// SetUpBoard leads step by step from a board that is plugged in to its card. practiceName is the
// practice bike in its place, "" for none.
func SetUpBoard(ctx context.Context, set *settings.Settings, port settings.Port, practiceName string,
	std settings.Streams) error {
	s := &setup{set: set, Dialogue: typing.NewDialogue(ctx, std.In, std.Out)}
	src, err := s.find(ctx, port, practiceName)
	if err != nil {
		return err
	}
	defer src.Close()
	defer context.AfterFunc(ctx, func() { src.Close() })()
	steps := []func(context.Context) error{s.kinds, s.hoses, s.zero}
	for i := 0; i < len(steps); i++ {
		if err := steps[i](ctx); errors.Is(err, errBack) {
			i = -1
		} else if err != nil {
			return err
		}
	}
	if s.practice != nil {
		s.Say(tell.SetupPractised...)
		return nil
	}
	s.Say(tell.SetupDone...)
	return nil
}

// find opens the board, or a practice engine with its hoses in no order, and begins to read it.
func (s *setup) find(ctx context.Context, port settings.Port, practiceName string) (src io.ReadCloser, err error) {
	where := "practice"
	if practiceName != "" {
		if err := settings.CheckPractice(practiceName); err != nil {
			return nil, err
		}
		o := s.set.PracticeOptions(practice.Options{Name: practiceName})
		cfg := o.EngineConfig()
		cfg.Bank.Channels = rand.New(rand.NewPCG(cfg.Seed, 0)).Perm(cfg.Bank.Cylinders)
		s.practice = engine.New(cfg)
		s.board = practice.Announcement(cfg.Bank)
		s.card = garage.DefaultBoard(s.board.Serial)
		s.Say(tell.SetupPractice)
		src = io.NopCloser(session.NewPace(ctx, s.practice))
	} else {
		s.Say(tell.SetupLooking)
		link, err := s.open(ctx, port)
		if err != nil {
			return nil, err
		}
		src, s.board, where = link, link.Board(), link.Path()
		if s.card, err = s.set.Garage.LoadBoard(s.board.Serial); err != nil {
			link.Close()
			return nil, err
		}
		if s.card.Model == "" {
			s.card.Model = s.board.Model
		}
	}
	if s.pressure = s.board.PressureChannels(); len(s.pressure) == 0 {
		src.Close()
		return nil, fmt.Errorf("board %s has no pressure channel", plain.Text(s.board.Serial))
	}
	s.Say(tell.SetupFound(s.board, where, len(s.pressure)))
	if s.card.Sensors != nil || s.card.Zero != nil {
		s.Say(tell.SetupHasCard)
	}
	s.sampler = newSampler(sensor.Setup{Kinds: settings.CardKinds(&s.card)})
	s.Over, s.Why = s.sampler.ended, func() error { return s.sampler.err }
	go s.sampler.run(src)
	return src, nil
}

// open opens the board. To one that says nothing, or something else, it offers the board program, and the newer one to
// one that has an older.
func (s *setup) open(ctx context.Context, port settings.Port) (*board.Link, error) {
	link, err := port.Open(ctx, s.set.World, nil)
	var seen *tell.OnBoard
	var path string
	if err == nil {
		if seen = (&tell.OnBoard{Says: link.Board()}); !seen.Outdated() {
			return link, nil
		}
		path = link.Path()
		link.Close()
	} else if seen, path, err = s.mayInstall(ctx, port, err); err != nil {
		return nil, err
	}
	s.Say(tell.OfferInstall(path, seen)...)
	fresh, failed := inDialogue(s.set.World, s.Dialogue, false).Install(ctx, path, seen)
	if left := (*InstallError)(nil); errors.As(failed, &left) && left.Kind == NotUpdated {
		return board.Open(ctx, path, port.Options(s.set.World))
	}
	return fresh, failed
}

// mayInstall returns the port of a board that could not be opened as it holds no program, or not ours, and what was
// seen of it; else the error.
func (s *setup) mayInstall(ctx context.Context, port settings.Port, err error) (*tell.OnBoard, string, error) {
	var e *board.Error
	if errors.As(err, &e) && e.Kind == board.NoBoard && len(e.Answers) == 0 && e.Err != nil {
		path, err := choosePort(ctx, s.set.World, port, false, s.Dialogue)
		return &tell.OnBoard{}, path, err
	}
	seen, err := SeenIn(err)
	if err != nil {
		return nil, "", err
	}
	return seen, e.Port, nil
}

// kinds asks for the kinds of the sensors.
func (s *setup) kinds(ctx context.Context) error {
	usual := sensor.DefaultKind
	if len(s.card.Sensors) > 0 {
		usual = ""
	}
	s.Say(tell.SetupKinds(sensor.Catalogue())...)
	for {
		line, err := s.Ask(ctx, tell.AskKind(usual))
		if err != nil {
			return err
		}
		if line == "" && len(s.card.Sensors) > 0 {
			return nil
		}
		names, err := s.named(ctx, line)
		if errors.Is(err, typing.ErrStopped) || ctx.Err() != nil {
			return err
		}
		if err != nil {
			s.refuse(err)
			continue
		}
		s.card.Sensors = names
		s.sampler.setSetup(sensor.Setup{Kinds: settings.CardKinds(&s.card), SupplyMV: s.card.SupplyMV})
		s.keepOnCard(&garage.Board{Serial: s.card.Serial, Model: s.card.Model, Sensors: names})
		return nil
	}
}

// named returns the kinds by channel that a line names.
func (s *setup) named(ctx context.Context, line string) ([]string, error) {
	parts := strings.Split(line, ",")
	if len(parts) != 1 && len(parts) != len(s.pressure) {
		return nil, fmt.Errorf("%d answers for %d pressure channels: give one for all, or %d with commas", len(parts),
			len(s.pressure), len(s.pressure))
	}
	var kinds []string
	for _, part := range parts {
		k, err := s.kind(ctx, strings.TrimSpace(part))
		if err != nil {
			return nil, err
		}
		kinds = append(kinds, k.Name)
	}
	names := make([]string, len(s.board.Channels))
	for i := range names {
		names[i] = sensor.DefaultKind
	}
	for n, channel := range s.pressure {
		names[channel] = kinds[min(n, len(kinds)-1)]
	}
	return names, nil
}

// kind returns the kind that a number or a name means; nothing is the default.
func (s *setup) kind(ctx context.Context, text string) (sensor.Kind, error) {
	all := sensor.Catalogue()
	n, err := strconv.Atoi(text)
	switch {
	case text == "":
		return sensor.ParseKind(sensor.DefaultKind)
	case text == stepBack:
		return sensor.Kind{}, errors.New("this is the first question")
	case err != nil:
		return sensor.ParseKind(text)
	case n >= 1 && n <= len(all):
		return all[n-1], nil
	case n == len(all)+1:
		return s.twoPoints(ctx)
	}
	return sensor.Kind{}, fmt.Errorf("there is no number %d", n)
}

// stepBack is the answer that goes back to the question before; errBack goes back to the kinds of the sensors.
const stepBack = "<"

var errBack = errors.New("back to the sensors")

// twoPoints asks for the kind of a sensor of which two points are known, until they are right.
func (s *setup) twoPoints(ctx context.Context) (sensor.Kind, error) {
	for {
		line, err := s.Ask(ctx, tell.AskTwoPoints)
		if err != nil {
			return sensor.Kind{}, err
		}
		if line == stepBack {
			return sensor.Kind{}, errors.New("back to the kinds")
		}
		k, err := sensor.ParseTwoPoint(strings.TrimPrefix(line, sensor.TwoPointWord+" "))
		if err == nil {
			return k, nil
		}
		s.refuse(err)
	}
}

// refuse says why an answer is not taken.
func (s *setup) refuse(err error) { s.Say("   " + tell.Indented(err.Error())) }

// hoses finds out which channel each hose is on.
func (s *setup) hoses(ctx context.Context) error {
	s.Say(tell.SetupHoses...)
	if _, err := s.Ask(ctx, tell.AskHosesStill); err != nil {
		return err
	}
	s.Say(tell.SetupMoment)
	finder := sensor.NewHoseFinder(s.pressure)
	if err := s.sampler.watch(ctx, func(x *sensor.Sample) bool { finder.Push(x); return finder.Ready() }); err != nil {
		return err
	}
	var hoses []int
	for h := 1; h <= len(s.pressure); {
		s.Say(tell.TouchHose(h))
		channel, err := s.touched(ctx, finder, h)
		switch {
		case err != nil:
			return err
		case channel < 0:
			h = len(s.pressure) + 1
		case slices.Contains(hoses, channel):
			s.Say(tell.TouchedHose(h, channel, slices.Index(hoses, channel)+1))
		default:
			s.Say(tell.TouchedHose(h, channel, 0))
			hoses = append(hoses, channel)
			h++
		}
		finder.Again()
	}
	if len(hoses) == 0 {
		s.Say(tell.NoHoseNamed)
		return nil
	}
	s.card.Hoses = hoses
	s.keepOnCard(&garage.Board{Serial: s.card.Serial, Model: s.card.Model, Hoses: hoses})
	return nil
}

// touched waits until a hose is touched, and returns its channel; -1 when the user has pressed Enter instead.
func (s *setup) touched(ctx context.Context, finder *sensor.HoseFinder, hose int) (channel int, err error) {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	skipped := errors.New("skipped")
	select {
	case <-s.Lines: // typed before it was asked for
	default:
	}
	waiting := make(chan struct{})
	go func() {
		defer close(waiting)
		select {
		case line, ok := <-s.Lines:
			switch {
			case !ok:
				stop(typing.ErrStopped)
			case line == stepBack:
				stop(errBack)
			default:
				stop(skipped)
			}
		case <-ctx.Done():
		}
	}()
	defer func() { stop(nil); <-waiting }()
	if s.practice != nil {
		s.practice.Suck(hose, practiceSuck)
		defer s.practice.Free()
	}
	channel = -1
	err = s.sampler.watch(ctx, func(x *sensor.Sample) bool { channel = finder.Push(x); return channel >= 0 })
	if errors.Is(err, skipped) {
		return -1, nil
	}
	return channel, err
}

// practiceSuck is how hard the practice mouth sucks, kPa. Chosen: a gentle pull.
const practiceSuck pressure.KPa = 4

// zero takes a zero pass.
func (s *setup) zero(ctx context.Context) error {
	s.Say(tell.SetupZero...)
	for {
		line, err := s.Ask(ctx, tell.AskSetupZero)
		if err != nil || strings.EqualFold(line, "s") {
			return err
		}
		if line == stepBack {
			return errBack
		}
		kinds := sensor.Setup{Kinds: settings.CardKinds(&s.card), SupplyMV: s.card.SupplyMV,
			Ambient: pressure.StandardAtmosphere(0)}
		if s.set.Ambient != 0 {
			kinds.Ambient = s.set.Ambient
		}
		s.sampler.setSetup(kinds)
		pass := sensor.NewZeroPass(kinds, s.board.Channels, s.set.Ambient)
		if err := s.sampler.watch(ctx, pass.Push); err != nil {
			return err
		}
		result, err := pass.Result()
		if err != nil {
			s.Say("   "+view.Refusal(err), tell.SetupZeroAgain)
			continue
		}
		s.Say(tell.SetupZeroed(&result, s.pressure, s.set.AmbientDoubt(result.Ambient))...)
		return s.keepZero(&kinds, &result)
	}
}

func (s *setup) keepZero(kinds *sensor.Setup, z *sensor.Zero) error {
	if s.practice != nil {
		return nil
	}
	cfg := session.Config{Setup: *kinds}
	if err := settings.KeepZero(s.set.Garage, s.board, &cfg, z, time.Now()); err != nil {
		return err
	}
	path, err := s.set.Garage.BoardPath(s.board.Serial)
	s.Say("   Kept in " + path)
	return err
}

// keepOnCard puts sensors or hoses on the card at once, so that a dialogue that is left loses nothing.
func (s *setup) keepOnCard(b *garage.Board) {
	if s.practice != nil {
		return
	}
	if err := s.set.Garage.SaveRig(b); err != nil {
		s.Say("   Not kept: " + plain.Text(err.Error()))
	}
}
