package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/pflag"

	"evendraw/internal/balance"
	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/tell"
)

// passOptions are what zero and match have in common.
type passOptions struct {
	port     portOptions
	practice string
	from     string
	json     bool
	bits     int
	sensor   string
}

func (o *passOptions) addFlags(r *rig, f *pflag.FlagSet) {
	o.port.addFlags(&r.world, f)
	addPracticeFlag(f, &o.practice)
	f.StringVar(&o.from, "from", "", "take the pass from a capture or a table instead (- is standard input)")
	f.BoolVar(&o.json, "json", false, "print JSON")
	f.IntVar(&o.bits, "bits", 10, "converter bits of a table of counts, 10 to 16")
	f.StringVar(&o.sensor, "sensor", "", "kind of the sensors of a table of counts or volts")
}

func (o *passOptions) check() error {
	switch {
	case o.bits < 10 || o.bits > 16:
		return usagef("--bits %d is not from 10 to 16", o.bits)
	case o.practice != "" && o.from != "":
		return usagef("--practice and --from: choose one")
	case o.practice != "" && o.port.port != "":
		return usagef("--practice takes the place of a board: it doesn't go with --port")
	}
	return nil
}

// pass is a zero or match pass being taken, which runs beside the readings of a session.
type pass struct {
	rig  *rig
	opt  *passOptions
	sess *session.Session
	// begin begins the pass, with the first reading; over ends a run when it returns true.
	begin func(*session.Chain) error
	over  func(*session.Chain) bool
	end   func(*session.Chain)

	board *frame.Announcement
	table bool      // a table of another logger
	when  time.Time // of the samples; zero is unknown
	save  bool      // on the board's card
	note  string    // why it is not
}

// live takes the pass from the board.
func (p *pass) live(ctx context.Context) error {
	link, err := p.opt.port.open(ctx, nil)
	if err != nil {
		return err
	}
	defer link.Close()
	p.board, p.save, p.when = link.Board(), true, time.Now()
	return p.run(ctx, session.Config{BankOf: p.config}, func(ctx context.Context) error { return p.sess.Run(ctx, link) })
}

// file takes the pass from a capture or a table.
func (p *pass) file(ctx context.Context, stdin io.Reader) error {
	in, file, err := openInput(p.opt.from, stdin)
	if err != nil {
		return err
	}
	defer file.Close()
	cfg, err := p.rig.inputConfig(in, p.opt.sensor)
	if err != nil {
		return err
	}
	cfg.Bank = nil
	if cfg.BankOf != nil {
		cfg.BankOf = p.config
	}
	if p.when = inputTime(in, p.opt.from); p.when.IsZero() {
		p.note = "not kept on a card: nothing says when this was taken"
	}
	if p.table = in.Table != nil; p.table {
		p.note = "not kept on a card: a table doesn't name its board"
	}
	p.save = p.note == ""
	return p.run(ctx, cfg, func(ctx context.Context) error {
		if in.Table != nil {
			return p.sess.RunTable(ctx, in.Table)
		}
		return p.sess.Run(ctx, in.Bytes)
	})
}

// inputTime returns when an input was recorded: by its head, else by its file's date; the zero time when
// neither says.
func inputTime(in *capture.Input, name string) time.Time {
	if t, err := time.Parse(time.RFC3339, in.Head.Get(keyRecorded)); err == nil {
		return t
	}
	if info, err := os.Stat(name); err == nil && name != "-" {
		return info.ModTime()
	}
	return time.Time{}
}

// config is the rig's, for every pressure channel of the board, whatever the
// bike has.
func (p *pass) config(a *frame.Announcement) session.Config {
	cfg := p.rig.config(a)
	cfg.Bank = nil
	return cfg
}

// run runs the session until the pass is over.
func (p *pass) run(ctx context.Context, cfg session.Config, read func(context.Context) error) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	over := errors.New("the pass is over")
	cfg.Reference = 1
	begun := false
	p.sess = session.New(cfg, session.Options{Bits: p.opt.bits, OnReading: func(_ *balance.Reading, c *session.Chain) {
		switch {
		case !begun:
			begun = true
			if err := p.begin(c); err != nil {
				stop(err)
			}
		case p.over(c):
			stop(over)
		}
	}})
	err := read(ctx)
	if cause := context.Cause(ctx); cause != nil && !errors.Is(cause, over) {
		return cause
	}
	if err != nil && !errors.Is(err, over) && context.Cause(ctx) != over {
		return err
	}
	p.sess.Chain(p.end)
	if a := p.sess.Snapshot().Board; a != nil {
		p.board = a
	}
	return nil
}

// refused is the error of a pass without a result; reason is the chain's, nil when it saw nothing.
func (p *pass) refused(reason error, words func(error) string, hint string, out io.Writer) error {
	if reason == nil {
		reason = fmt.Errorf("no frames to take a pass from")
		if p.sess.Snapshot().Link.Frames == 0 {
			return &capture.Error{Problem: reason.Error()}
		}
	}
	if p.opt.json {
		tellRefusal(out, reason, words)
	}
	return &hinted{errors.New(words(reason)), hint}
}

func tellRefusal(out io.Writer, err error, words func(error) string) {
	channel, reason := -1, err.Error()
	var r *sensor.Refusal
	if errors.As(err, &r) {
		channel, reason = r.Channel, r.Reason
	}
	json.NewEncoder(out).Encode(map[string]any{"refused": map[string]any{"channel": channel, "reason": reason, "text": words(err)}})
}

// keep writes a pass on the board's card by put, unless the card's is newer, and returns the card's path;
// it tells on errOut why it was not kept.
func (p *pass) keep(what string, last time.Time, put func() error, errOut io.Writer) (saved string) {
	if p.note != "" {
		fmt.Fprintln(errOut, "evendraw: "+p.note)
	}
	if !p.save || p.board == nil {
		return ""
	}
	if last.After(p.when) {
		fmt.Fprintf(errOut, "evendraw: not kept: the card has a newer %s, of %s; this is of %s\n", what, cardTime(last), cardTime(p.when))
		return ""
	}
	if err := put(); err != nil {
		fmt.Fprintf(errOut, "evendraw: the %s could not be kept: %s\n", what, tell.Plain(err.Error()))
		return ""
	}
	saved, _ = p.rig.garage.BoardPath(p.board.Serial)
	return saved
}

// cardTime writes a time as people read it.
func cardTime(t time.Time) string { return t.Local().Format("2006-01-02 15:04") }

// serial is the board's, "" if none is known.
func (p *pass) serial() string {
	if p.board == nil {
		return ""
	}
	return p.board.Serial
}
