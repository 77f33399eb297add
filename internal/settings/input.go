package settings

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"time"

	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/head"
	"evendraw/internal/hint"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
)

// OpenInput opens a capture or a table, - being standard input. ctx ends the wait for a pipe.
func OpenInput(ctx context.Context, name string, stdin io.Reader) (*capture.Input, io.Closer, error) {
	f, err := openBytes(ctx, name, stdin)
	if err != nil {
		return nil, nil, err
	}
	in, err := capture.Open(f)
	if err != nil {
		f.Close()
		if ctx.Err() != nil {
			return nil, nil, context.Cause(ctx)
		}
		return nil, nil, fmt.Errorf("%s: %w", name, err)
	}
	return in, f, nil
}

// openBytes opens a file, or standard input.
func openBytes(ctx context.Context, name string, stdin io.Reader) (io.ReadCloser, error) {
	if name == "-" {
		return capture.Piped(ctx, func() (io.ReadCloser, error) { return io.NopCloser(stdin), nil }), nil
	}
	info, err := os.Stat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, hint.NoFile(name)
	case err != nil:
		return nil, &capture.Error{Problem: err.Error()}
	case info.IsDir():
		return nil, &capture.Error{Problem: name + " is a folder"}
	case !info.Mode().IsRegular():
		return capture.Piped(ctx, func() (io.ReadCloser, error) { return os.Open(name) }), nil
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, &capture.Error{Problem: err.Error()}
	}
	return f, nil
}

// TableOptions are what the command line says of another logger's table.
type TableOptions struct {
	Bits   int    // converter bits of counts; 0 is the usual, 10
	Sensor string // kind of the sensors of counts or volts; "" is the board card's, or the usual
	Board  string // the board whose card it is read with; "" is none
	Zeroed bool   // the logger took its sensors' zero errors off
	// Anew is set where the board may have no card yet: what is learned makes one.
	Anew bool
}

// usualBits is the converter of most boards and loggers.
const usualBits = 10

// fit refuses what was said that goes with another kind of input.
func (o *TableOptions) fit(in *capture.Input) error {
	counts, volts := false, false
	if in.Table != nil {
		counts, volts = in.Table.Quantity == capture.Counts, in.Table.Quantity == capture.Volts
	}
	for _, f := range []struct {
		name, with  string
		given, fits bool
	}{{"bits", "a table of counts, c0, c1 …", o.Bits != 0, counts},
		{"sensor", "a table of counts or volts", o.Sensor != "", counts || volts},
		{"board", "a table: a capture names its board", o.Board != "", in.Table != nil},
		{"zeroed", "a table: a capture says whether there was a zero pass", o.Zeroed, in.Table != nil}} {
		if f.given && !f.fits {
			return hint.Usagef("--%s goes with %s", f.name, f.with)
		}
	}
	return nil
}

// InputConfig returns the settings to read an input with.
func (s *Settings) InputConfig(in *capture.Input, o *TableOptions, n *Notes) (session.Config, error) {
	cfg, found, err := head.Config(in.Head)
	if err == nil {
		err = o.fit(in)
	}
	if err != nil {
		return cfg, err
	}
	if found && (in.Table == nil || *o == TableOptions{Bits: o.Bits, Anew: o.Anew}) {
		s.override(&cfg)
		n.Once(s.ambientUnused(&cfg))
		return cfg, nil
	}
	if in.Table == nil {
		cfg.BankOf = func(a *frame.Announcement) session.Config { return s.BankConfig(a, n) }
		return cfg, nil
	}
	card, err := s.tableCard(in.Table, o, n)
	if err != nil {
		return cfg, err
	}
	if !s.Named && s.Bike != nil { // another logger's table is no business of the last bike's card
		n.Once("the table is read without a bike's card: cylinder 1 is the reference; --bike NAME takes a card")
		s = s.WithBike(nil)
	}
	cfg = s.ConfigOf(card)
	cfg.Zeroed = cfg.Zeroed || o.Zeroed
	n.Once(s.ambientUnused(&cfg))
	return cfg, nil
}

// tableCard returns the card of the board that a table is taken for, or what stands for one: sensors of one kind.
func (s *Settings) tableCard(t *capture.Table, o *TableOptions, n *Notes) (garage.Board, error) {
	card := garage.Board{Serial: "table"}
	if o.Board != "" {
		path, err := s.Garage.BoardPath(o.Board)
		if err != nil {
			return card, hint.Usagef("--board: %w", err)
		}
		if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
			none := NoBoardNamed(s.Garage, o.Board)
			if !o.Anew {
				return card, none
			}
			n.Once(none.Error() + "; a pass that is kept makes one")
		}
		t.Serial = o.Board
		if card, err = s.Garage.LoadBoard(o.Board); err != nil {
			return card, err
		}
		for _, note := range FitCard(&card, t.Board(cmp.Or(o.Bits, usualBits)), time.Now()) {
			n.Once(note)
		}
	}
	if o.Sensor == "" {
		if o.Board == "" && t.Quantity != capture.KPa {
			n.Once("the table does not say of which kind its sensors are: they are taken for " + sensor.DefaultKind +
				"; --sensor names another kind, --board a card")
		}
		return card, nil
	}
	k, err := sensor.ParseKind(o.Sensor)
	if err != nil {
		return card, hint.Usage(err)
	}
	card.Sensors = nil
	for range t.Channels {
		card.Sensors = append(card.Sensors, k.Name)
	}
	return card, nil
}

// InputTime returns when an input was recorded: by its head, else by its file's date; the zero time when neither says.
func InputTime(in *capture.Input, name string) time.Time {
	if t, err := time.Parse(time.RFC3339, in.Head.Get(head.Recorded)); err == nil {
		return t
	}
	if info, err := os.Stat(name); err == nil && name != "-" {
		return info.ModTime()
	}
	return time.Time{}
}

// IsCapture reports whether a name is that of a capture or a table rather than of a record.
func IsCapture(name string) bool {
	info, err := os.Stat(name)
	return name == "-" || err == nil && !info.IsDir() && !garage.IsRecord(name)
}

// IsFile reports whether a target is a capture rather than a port: standard input, a plain file, or a
// name that is none of a port where there is nothing.
func IsFile(target string) bool {
	info, err := os.Stat(target)
	if errors.Is(err, fs.ErrNotExist) {
		return target != "" && !strings.HasPrefix(target, "/dev/") && !strings.HasPrefix(target, `\\.\`) &&
			!strings.HasPrefix(strings.ToUpper(target), "COM")
	}
	return target == "-" || err == nil && info.Mode().IsRegular()
}

// NoFrame says why an input gave no frame: the board that it names, nil without, can't be read, or frames came
// that no announcement explains.
func NoFrame(a *frame.Announcement, unannounced uint64) error {
	problem := "holds no frame of a board"
	if unannounced > 0 {
		problem = fmt.Sprintf("holds %d data frames but no announcement to read them by", unannounced)
	}
	if a != nil {
		if err := a.Readable(); err != nil {
			problem = err.Error()
		}
	}
	return &capture.Error{Problem: problem}
}
