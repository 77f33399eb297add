package cli

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// Whatever ends a run whose engine turns, its last word is that it does; and what is then to be known is said: to let
// go of the throttle, and that nothing is saved.
func TestARunThatIsLeftSaysThatTheEngineTurns(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for _, row := range []struct{ args, also string }{
		{"mixture --practice", "practice"},
		{"mixture raised --practice", "Now let go of the throttle."}, {"leaks --practice", ""},
		{"live --practice --headless", "nothing is saved"}, {"live --practice --headless --json", "nothing is saved"},
		{"capture --practice " + dir + "/x.cap", ""},
	} {
		t.Run(row.args, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				r := world{}.begin(t, t.TempDir(), strings.Fields(row.args)...)
				time.Sleep(14 * time.Second)
				r.stop()
				if code := r.status(); code != exitInterrupted {
					t.Errorf("status %d", code)
				}
				if text := r.text(); strings.Count(text, stillRuns) != 1 || !strings.Contains(text, row.also) {
					t.Errorf("said:\n%s", tail(text))
				}
			})
		})
	}
}
