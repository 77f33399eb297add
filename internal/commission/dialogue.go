package commission

import (
	"bufio"
	"context"
	"errors"
	"evendraw/internal/job"
	"fmt"
	"io"
	"strings"
)

// errStopped ends a dialogue that the user has left.
var errStopped = errors.New("stopped: what was not yet kept is not")

// dialogue asks and is answered by lines.
type dialogue struct {
	out   io.Writer
	lines chan string // what the user types; closed at the end
	// over, unless nil, ends a question, for the reason that why gives.
	over <-chan struct{}
	why  func() error
}

// newDialogue reads what the user types until ctx is done.
func newDialogue(ctx context.Context, std job.Streams) *dialogue {
	d := &dialogue{out: std.Out, lines: make(chan string)}
	go func() {
		defer close(d.lines)
		for scan := bufio.NewScanner(std.In); scan.Scan(); {
			select {
			case d.lines <- strings.TrimSpace(scan.Text()):
			case <-ctx.Done():
				return
			}
		}
	}()
	return d
}

func (d *dialogue) say(lines ...string) {
	for _, l := range lines {
		fmt.Fprintln(d.out, l)
	}
}

// ask prints a question and returns what the user types.
func (d *dialogue) ask(ctx context.Context, question string) (string, error) {
	fmt.Fprint(d.out, question+" ")
	select {
	case line, ok := <-d.lines:
		if !ok {
			fmt.Fprintln(d.out)
			return "", errStopped
		}
		return line, nil
	case <-ctx.Done():
		return "", context.Cause(ctx)
	case <-d.over:
		return "", d.why()
	}
}

// agreed asks a question that only y or yes agrees to.
func (d *dialogue) agreed(ctx context.Context, question string) (bool, error) {
	line, err := d.ask(ctx, question+" (y/N):")
	if errors.Is(err, errStopped) {
		return false, nil
	}
	return strings.EqualFold(line, "y") || strings.EqualFold(line, "yes"), err
}
