package cli

import (
	"context"
	"os"
	"time"

	"evendraw/internal/board"
	"evendraw/internal/screen"
	"evendraw/internal/settings"
)

// panicEnv has the test program run in a world that is out of order.
const panicEnv = "EVENDRAW_TEST_PANIC"

// init takes the test program's place before any test runs.
func init() {
	if where := os.Getenv(panicEnv); where != "" {
		os.Exit(panicRun(where))
	}
}

// blank is a screen on which nothing can be drawn.
type blank struct{ *screen.Terminal }

func (blank) Show(func(*screen.Canvas)) { panic("drawing is out of order") }

// panicRun is what the test program does with panicEnv.
func panicRun(where string) int {
	w := world{}
	args := []string{"live", "--practice"}
	if where == "draw" {
		w.Display = func(o screen.Options) (settings.Display, error) {
			t, err := screen.OpenTerminal(o)
			return blank{t}, err
		}
	} else {
		args = []string{"live", "--port", "nowhere"}
		w.Dial = func(string, int) (board.Wire, error) {
			time.Sleep(200 * time.Millisecond)
			panic("reading is out of order")
		}
	}
	return runIn(context.Background(), w, args, os.Stdin, os.Stdout, os.Stderr)
}
