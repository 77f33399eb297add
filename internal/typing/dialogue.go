package typing

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
)

// ErrStopped ends a dialogue that the user has left.
var ErrStopped = errors.New("stopped: what was not yet kept is not")

// Dialogue asks and is answered by lines.
type Dialogue struct {
	Out   io.Writer
	Lines chan string // what the user types; closed at the end
	// Over, unless nil, ends a question, for the reason that Why gives.
	Over <-chan struct{}
	Why  func() error
}

// NewDialogue reads what the user types until ctx is done.
func NewDialogue(ctx context.Context, in io.Reader, out io.Writer) *Dialogue {
	d := &Dialogue{Out: out, Lines: make(chan string)}
	go func() {
		defer close(d.Lines)
		for scan := bufio.NewScanner(in); scan.Scan(); {
			select {
			case d.Lines <- strings.TrimSpace(scan.Text()):
			case <-ctx.Done():
				return
			}
		}
	}()
	return d
}

// Say prints lines.
func (d *Dialogue) Say(lines ...string) {
	for _, l := range lines {
		fmt.Fprintln(d.Out, l)
	}
}

// Ask prints a question and returns what the user types.
func (d *Dialogue) Ask(ctx context.Context, question string) (string, error) {
	fmt.Fprint(d.Out, question+" ")
	err := ErrStopped
	select {
	case line, ok := <-d.Lines:
		if ok {
			return line, nil
		}
	case <-ctx.Done():
		err = context.Cause(ctx)
	case <-d.Over:
		err = d.Why()
	}
	fmt.Fprintln(d.Out) // the line of the question is over
	return "", err
}

// Agreed asks a question that only y or yes agrees to.
func (d *Dialogue) Agreed(ctx context.Context, question string) (bool, error) {
	line, err := d.Ask(ctx, question+" (y/N):")
	if errors.Is(err, ErrStopped) {
		return false, nil
	}
	return strings.EqualFold(line, "y") || strings.EqualFold(line, "yes"), err
}
