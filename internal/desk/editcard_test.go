package desk

import (
	"context"
	"io"
	"strings"
	"testing"

	"evendraw/internal/settings"
)

// A question ends with its line, and what follows is left to others.
func TestAskOnceReadsOneLine(t *testing.T) {
	t.Parallel()
	for answer, want := range map[string]bool{"y": true, " YES ": true, "n": false, "": false, "yesterday": false} {
		in := strings.NewReader(answer + "\nrest")
		if got := askOnce(t.Context(), settings.Streams{In: in, Err: io.Discard}, "Again?"); got != want {
			t.Errorf("%q: %v, want %v", answer, got, want)
		}
		if rest, err := io.ReadAll(in); string(rest) != "rest" || err != nil {
			t.Errorf("%q: %q is left, %v", answer, rest, err)
		}
	}
}

// Who ends the program while it asks has said no: nothing waits for a line.
func TestAskOnceEndsWithTheProgram(t *testing.T) {
	t.Parallel()
	in, typed := io.Pipe()
	defer typed.Close()
	ctx, end := context.WithCancel(t.Context())
	end()
	if askOnce(ctx, settings.Streams{In: in, Err: io.Discard}, "Again?") {
		t.Error("agreed to without an answer")
	}
}
