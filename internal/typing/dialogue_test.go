package typing

import (
	"bytes"
	"context"
	"errors"
	"io"
	"testing"
)

// However a question ends that nobody answers, its line ends too: what comes next, as a shell's prompt, has its own.
func TestAQuestionThatIsLeftEndsItsLine(t *testing.T) {
	t.Parallel()
	interrupted, stop := context.WithCancel(t.Context())
	stop()
	over, overErr := make(chan struct{}), errors.New("over")
	close(over)
	none := make(chan string)
	ended := make(chan string)
	close(ended)
	for name, row := range map[string]struct {
		ctx  context.Context
		d    Dialogue
		want error
	}{"Ctrl-C": {interrupted, Dialogue{Lines: none}, context.Canceled},
		"Ctrl-D": {t.Context(), Dialogue{Lines: ended}, ErrStopped},
		"over":   {t.Context(), Dialogue{Lines: none, Over: over, Why: func() error { return overErr }}, overErr}} {
		var out bytes.Buffer
		row.d.Out = io.Writer(&out)
		if _, err := row.d.Ask(row.ctx, "How many?"); !errors.Is(err, row.want) || out.String() != "How many? \n" {
			t.Errorf("%s: %v, %q", name, err, out.String())
		}
	}
}
