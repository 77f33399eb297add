package bootloader

import (
	"context"
	"errors"
	"fmt"
)

// Chip is a chip's signature.
type Chip [3]byte

// The chips that the board program is for.
var (
	ATmega328P  = Chip{0x1E, 0x95, 0x0F}
	ATmega328PB = Chip{0x1E, 0x95, 0x16}
)

// chipNames are signatures from data sheets (those of other chips than the 328P from memory).
var chipNames = map[Chip]string{
	ATmega328P: "ATmega328P", ATmega328PB: "ATmega328PB", {0x1E, 0x95, 0x14}: "ATmega328",
	{0x1E, 0x94, 0x06}: "ATmega168", {0x1E, 0x94, 0x0B}: "ATmega168P", {0x1E, 0x93, 0x07}: "ATmega8",
	{0x1E, 0x93, 0x0A}: "ATmega88", {0x1E, 0x93, 0x0F}: "ATmega88P", {0x1E, 0x95, 0x02}: "ATmega32",
	{0x1E, 0x95, 0x87}: "ATmega32U4", {0x1E, 0x96, 0x09}: "ATmega644", {0x1E, 0x97, 0x03}: "ATmega1280",
	{0x1E, 0x97, 0x05}: "ATmega1284P", {0x1E, 0x98, 0x01}: "ATmega2560",
}

// String returns the chip's name, and its signature where that is not known.
func (c Chip) String() string {
	if name := chipNames[c]; name != "" {
		return name
	}
	return fmt.Sprintf("unknown chip of signature % x", c[:])
}

// ChipError says that the chip is none that the program is for. Nothing was written.
type ChipError struct{ Chip Chip }

func (e *ChipError) Error() string { return fmt.Sprintf("this is an %v", e.Chip) }

// MismatchError says that a page reads back otherwise than it was written.
type MismatchError struct{ Page int }

func (e *MismatchError) Error() string {
	return fmt.Sprintf("page %d reads back otherwise than it was written", e.Page)
}

// Content is what the chip's first page says it holds.
type Content int

// The kinds of Content.
const (
	Other  Content = iota // some program
	Blank                 // nothing: erased
	Halted                // an Install that was broken off, or Still
	Same                  // the first page of the image itself
)

// Found is what a boot loader says of its board.
type Found struct {
	Chip    Chip
	Baud    int // of the boot loader, bit/s
	Content Content
}

// Options say how to install.
type Options struct {
	// Press, unless nil, is called when no boot loader answers by itself: somebody is to press the board's reset
	// button within the next 24 s.
	Press func()
	// Progress, unless nil, is called after each page with how many of how many are written.
	Progress func(done, of int)
}

// Examine restarts the board into its boot loader and says what is there, holding its first page against that of an
// image. Errors: ErrNoLoader, *ChipError, *AnswerError, those of the line, and ctx's.
func Examine(ctx context.Context, line Line, m *Image, o Options) (f Found, err error) {
	err = retry(ctx, func() error {
		l := &loader{line: line}
		if f.Chip, err = l.begin(ctx, o.Press); err != nil {
			return err
		}
		f.Baud = l.baud
		page, err := l.readPage(0)
		switch page {
		case blankPage:
			f.Content = Blank
		case stillPage:
			f.Content = Halted
		case m.Page(0):
			f.Content = Same
		default:
			f.Content = Other
		}
		return err
	})
	return f, err
}

// Install restarts the board into its boot loader, writes an image, reads back each page, and starts it. What the
// boot loader answers wrongly, as with a bad lead, is tried again from the start. Errors are those of Examine, and
// *MismatchError; after any of them but ErrNoLoader and *ChipError the board may be left silent, to be installed anew.
func Install(ctx context.Context, line Line, m *Image, o Options) error {
	return retry(ctx, func() error {
		l := &loader{line: line}
		if _, err := l.begin(ctx, o.Press); err != nil {
			return err
		}
		if err := l.write(ctx, m, o.Progress); err != nil {
			return err
		}
		_, err := l.ask("starting the program", 0, commandLeave)
		if late := (*AnswerError)(nil); errors.As(err, &late) {
			return nil // all is written; the next restart starts it too
		}
		return err
	})
}

// tries is how often an exchange that fails half way is begun (chosen).
const tries = 3

// retry does what a bad answer or page may have spoilt again.
func retry(ctx context.Context, do func() error) (err error) {
	for range tries {
		err = do()
		var answer *AnswerError
		var page *MismatchError
		if !errors.As(err, &answer) && !errors.As(err, &page) || ctx.Err() != nil {
			break
		}
	}
	return err
}

// begin finds the boot loader, and sees that the chip is one that the program is for.
func (l *loader) begin(ctx context.Context, press func()) (c Chip, err error) {
	if err := l.find(ctx, press); err != nil {
		return c, err
	}
	b, err := l.ask("asking for the signature", len(c), commandSignature)
	if err != nil {
		return c, err
	}
	if c = Chip(b); c != ATmega328P && c != ATmega328PB {
		return c, &ChipError{c}
	}
	_, err = l.ask("entering programming", 0, commandEnter)
	return c, err
}

// write writes the image: page 0 as a jump to itself, the other pages, page 0.
func (l *loader) write(ctx context.Context, m *Image, progress func(done, of int)) error {
	type step struct {
		page int
		data Page
	}
	steps := []step{{0, stillPage}}
	for _, n := range m.Pages() {
		if n != 0 {
			steps = append(steps, step{n, m.Page(n)})
		}
	}
	steps = append(steps, step{0, m.Page(0)})
	for i, s := range steps {
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		if err := l.writePage(s.page, s.data); err != nil {
			return err
		}
		if progress != nil {
			progress(i+1, len(steps))
		}
	}
	return nil
}
