package commission

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/head"
	"evendraw/internal/hint"
	"evendraw/internal/plain"
	"evendraw/internal/practice"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

// frameWait is how long a board may send no frame that can be used before a pass, a checkup or a look at its hoses is
// given up. Chosen: one that restarts in the middle is back within two seconds.
const frameWait = 5 * time.Second

// CheckOptions are what the command line says of a board's checkup.
type CheckOptions struct {
	Port     settings.Port
	File     string // a capture instead of a board, - is standard input; "" for none
	Practice string // name of a practice bike instead, "" for none
	JSON     bool
}

// boardCheck is a check being made.
type boardCheck struct {
	tell.Checkup
	set   *settings.Settings
	notes settings.Notes
	std   settings.Streams
	cfg   session.Config
	late  *time.Timer // ends the check when no frame comes, nil for a file
}

// CheckBoard looks at a board and says what is wrong with it.
func CheckBoard(ctx context.Context, set *settings.Settings, o *CheckOptions, std settings.Streams) error {
	c := &boardCheck{set: set, std: std, notes: settings.Notes{Tell: std.Warn}}
	var err error
	switch {
	case o.File != "":
		err = c.file(ctx, o.File)
	case o.Practice != "":
		err = c.practice(ctx, o.Practice)
	default:
		err = c.live(ctx, o.Port)
	}
	if err != nil {
		return err
	}
	c.Setup, c.Budget = c.cfg.Setup, func(channel int) sensor.Budget { return BudgetOf(c.Card, channel) }
	if c.Clock == nil { // else it was told as the board was met
		c.Note = settings.LeftAside(c.Board, &c.cfg)
	}
	if !o.JSON {
		c.Text(std.Out)
	} else if err := c.JSON(std.Out); err != nil {
		return err
	}
	if !slices.ContainsFunc(c.Check.Channels(), func(ch sensor.ChannelCheckup) bool { return ch.Verdict.Usable() }) {
		return hint.With(errors.New(tell.NoneUsable), tell.NoneUsableHint)
	}
	return nil
}

func (c *boardCheck) live(ctx context.Context, port settings.Port) error {
	link, err := port.Open(ctx, c.set.World, nil)
	if err != nil {
		return err
	}
	defer link.Close()
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	defer context.AfterFunc(ctx, func() { link.Close() })()
	a := link.Board()
	fmt.Fprintf(c.std.Err, "looking at board %s (%s) for %g s\n", plain.Text(a.Serial), plain.Text(a.Model),
		sensor.CheckupSeconds)
	c.Board, c.cfg, c.Clock = a, c.set.BankConfig(a, &c.notes), &sensor.ClockFit{}
	if card, err := c.set.Garage.LoadBoard(a.Serial); err == nil {
		settings.FitCard(&card, a, time.Now())
		c.Card = &card
	}
	c.late = time.AfterFunc(frameWait, func() { stop(&session.NoFrames{Waited: frameWait}) })
	defer c.late.Stop()
	return c.watch(ctx, link)
}

func (c *boardCheck) practice(ctx context.Context, name string) error {
	pr, err := c.set.PracticeBike(practice.Options{Name: name, Ambient: c.set.Ambient}, &c.std)
	if err != nil {
		return err
	}
	fmt.Fprintln(c.std.Err, "practice: the engine is off, the hoses are open; faster than real time")
	c.cfg = pr.Config()
	return c.watch(ctx, pr.Engine)
}

func (c *boardCheck) file(ctx context.Context, name string) error {
	in, file, err := settings.OpenInput(ctx, name, c.std.In)
	if err != nil {
		return err
	}
	defer file.Close()
	if in.Table != nil {
		return hint.Usagef("%s is a table: a check looks at a board's own bytes", name)
	}
	cfg, found, err := head.Config(in.Head)
	if err != nil {
		return err
	}
	if found {
		c.cfg = cfg
	} else {
		c.cfg = c.set.ConfigOf(garage.Board{})
	}
	if err := c.watch(ctx, in.Bytes); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if s := c.Check.Seconds(); s < sensor.CheckupSeconds {
		fmt.Fprintf(c.std.Err, "only %.1f s are in it\n", s)
	}
	return nil
}

// watch reads the source until the checkup is complete, or a file ends.
func (c *boardCheck) watch(ctx context.Context, src io.Reader) error {
	reader := frame.NewReader(src)
	begin := time.Now()
	for {
		f, err := reader.Read()
		if ctx.Err() != nil {
			return given(context.Cause(ctx), reader.Standstill())
		}
		if c.late != nil {
			c.late.Reset(frameWait)
		}
		c.Stats = reader.Stats()
		if err == io.EOF && c.Check != nil {
			return nil
		}
		if err == io.EOF {
			return settings.NoFrame(reader.Board(), 0)
		}
		if err != nil {
			return err
		}
		if c.Check == nil {
			if c.Board == nil {
				c.Board = reader.Board()
			}
			c.Check = sensor.NewCheckup(c.Board, c.cfg.Setup)
		}
		done := c.Check.Push(&f)
		if c.Clock != nil {
			c.Clock.Push(c.Check.Seconds(), time.Since(begin).Seconds())
		}
		if done {
			return nil
		}
	}
}

// given returns why a check was given up; why is what is known of the frames.
func given(cause error, why *frame.Standstill) error {
	var none *session.NoFrames
	if why != nil && errors.As(cause, &none) {
		none.Err = why
	}
	return cause
}
