package bootloader

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"time"
)

// Line is an open serial line to a board. Its own errors end what is under way and are returned as they are.
type Line interface {
	// Read gives the bytes that are there; after a short silence, some 20 ms, it returns 0 and no error.
	Read(p []byte) (int, error)
	Write(p []byte) (int, error)
	// SetBaud changes the rate, in bit/s.
	SetBaud(baud int) error
	// Restart pulls the board's reset line, sets the rate, and forgets what came before.
	Restart(baud int) error
}

// Commands and answers of the protocol.
const (
	answerInSync, answerOK = 0x14, 0x10
	commandEnd             = 0x20

	commandSync      = '0'
	commandEnter     = 'P'
	commandLeave     = 'Q'
	commandAddress   = 'U' // in words, low byte first
	commandWrite     = 'd' // length, high byte first; kind of memory; bytes
	commandRead      = 't'
	commandSignature = 'u'
	memoryFlash      = 'F'
)

const (
	// syncWait is how long an answer to one try is waited for. Chosen: a USB bridge gathers bytes for 16 ms.
	syncWait = 100 * time.Millisecond
	// greetFor is how long one rate is tried after a restart. Derived: boot loaders listen for 1 s and more, some
	// after blinking for half a second.
	greetFor = 1500 * time.Millisecond
	// answerWait is the wait for an answer once in step. Derived: a page takes 9 ms to write, its bytes 24 ms at
	// 57600 bit/s; the rest is for a busy computer.
	answerWait = time.Second
	// leastSettle and mostSettle bound how long late answers are waited for (chosen).
	leastSettle, mostSettle = 40 * time.Millisecond, 500 * time.Millisecond
	// buttonRate is how long one rate is tried while somebody is to press the board's button. Chosen: long
	// enough to find the button, and few changes, as bytes at a wrong rate drive boot loaders away.
	buttonRate = 6 * time.Second
)

// rates are those of the boot loaders in use, in bit/s, the commonest first.
var rates = []int{115_200, 57_600}

// ErrNoLoader says that no boot loader answers on the line.
var ErrNoLoader = errors.New("no boot loader answers")

// AnswerError says that a boot loader that was in step has answered wrongly, or no longer.
type AnswerError struct {
	Doing string
	Got   []byte // what came in the answer's place, maybe nothing
}

func (e *AnswerError) Error() string {
	if len(e.Got) == 0 {
		return e.Doing + ": no answer"
	}
	return fmt.Sprintf("%s: % x is no answer", e.Doing, e.Got[:min(len(e.Got), 8)])
}

// loader is a boot loader on a line.
type loader struct {
	line Line
	baud int
}

// read reads n bytes, fewer if they don't come within wait.
func (l *loader) read(n int, wait time.Duration) ([]byte, error) {
	b := make([]byte, 0, n)
	for end := time.Now().Add(wait); len(b) < n && time.Now().Before(end); {
		k, err := l.line.Read(b[len(b):n])
		b = b[:len(b)+k]
		if err != nil {
			return b, err
		}
	}
	return b, nil
}

// settle reads until nothing has come for so long, twice that at most, so that late answers are not taken for those
// to what is asked next. It reports whether it became quiet: a program that talks never does.
func (l *loader) settle(silence time.Duration) (quiet bool, err error) {
	var b [256]byte
	last := time.Now()
	for end := last.Add(2 * silence); time.Now().Before(end); {
		n, err := l.line.Read(b[:])
		if err != nil {
			return false, err
		}
		if n > 0 {
			last = time.Now()
		} else if time.Since(last) >= silence {
			return true, nil
		}
	}
	return false, nil
}

// ask sends a command and returns the n bytes of its answer.
func (l *loader) ask(doing string, n int, command ...byte) ([]byte, error) {
	if _, err := l.line.Write(append(command, commandEnd)); err != nil {
		return nil, err
	}
	b, err := l.read(n+2, answerWait)
	if err != nil {
		return nil, err
	}
	if len(b) < n+2 || b[0] != answerInSync || b[n+1] != answerOK {
		return nil, &AnswerError{doing, b}
	}
	return b[1 : n+1], nil
}

// find restarts the board at each rate until a boot loader answers. press, unless nil, is then called to have the
// board's button pressed, for boards on whose lead no line restarts them.
func (l *loader) find(ctx context.Context, press func()) error {
	found, err := l.tryRates(ctx, l.line.Restart, greetFor)
	if !found && err == nil && press != nil {
		press()
		found, err = l.tryRates(ctx, l.line.SetBaud, buttonRate)
	}
	if !found && err == nil {
		return ErrNoLoader
	}
	return err
}

// tryRates sets each rate, twice, until a boot loader answers within wait.
func (l *loader) tryRates(ctx context.Context, set func(baud int) error, wait time.Duration) (found bool, err error) {
	for range 2 {
		for _, l.baud = range rates {
			if err := set(l.baud); err != nil {
				return false, err
			}
			if found, err := l.greet(ctx, wait); found || err != nil {
				return found, err
			}
		}
	}
	return false, nil
}

// greet gets in step with a boot loader at the line's rate, for so long. Answers may be late, and other bytes may come
// before: an answer counts when all is quiet thereafter and the next comes alone.
func (l *loader) greet(ctx context.Context, wait time.Duration) (found bool, err error) {
	answer := []byte{answerInSync, answerOK}
	begun := time.Now()
	for time.Since(begun) < wait {
		if ctx.Err() != nil {
			return false, context.Cause(ctx)
		}
		if _, err := l.line.Write([]byte{commandSync, commandEnd}); err != nil {
			return false, err
		}
		var heard []byte
		for end := time.Now().Add(syncWait); time.Now().Before(end) && !bytes.Contains(heard, answer); {
			b := make([]byte, 64)
			n, err := l.line.Read(b)
			if err != nil {
				return false, err
			}
			heard = append(heard, b[:n]...)
		}
		if !bytes.Contains(heard, answer) {
			continue
		}
		quiet, err := l.settle(min(max(time.Since(begun), leastSettle), mostSettle))
		if err != nil {
			return false, err
		}
		if !quiet {
			continue
		}
		_, err = l.ask("getting in step", 0, commandSync)
		if wrong := (*AnswerError)(nil); err == nil || !errors.As(err, &wrong) {
			return err == nil, err
		}
	}
	return false, nil
}

func (l *loader) seek(page int) error {
	words := page * PageSize / 2
	_, err := l.ask(fmt.Sprint("address of page ", page), 0, commandAddress, byte(words), byte(words>>8))
	return err
}

func (l *loader) readPage(n int) (p Page, err error) {
	if err := l.seek(n); err != nil {
		return p, err
	}
	b, err := l.ask(fmt.Sprint("reading page ", n), PageSize, commandRead, 0, PageSize, memoryFlash)
	copy(p[:], b)
	return p, err
}

// writePage writes a page and reads it back.
func (l *loader) writePage(n int, p Page) error {
	if n < 0 || (n+1)*PageSize > Room {
		panic(fmt.Sprintf("bootloader: internal error: page %d is not the program's", n))
	}
	if err := l.seek(n); err != nil {
		return err
	}
	command := append([]byte{commandWrite, 0, PageSize, memoryFlash}, p[:]...)
	if _, err := l.ask(fmt.Sprint("writing page ", n), 0, command...); err != nil {
		return err
	}
	back, err := l.readPage(n)
	if err == nil && back != p {
		err = &MismatchError{Page: n}
	}
	return err
}
