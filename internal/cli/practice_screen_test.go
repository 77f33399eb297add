package cli

import (
	"testing"
	"testing/synctest"
	"time"
)

// onPractice runs the program on a screen over a practice bike, and gives the rest of the test both.
func onPractice(t *testing.T, garage string, test func(s *canvasScreen, r *running), args ...string) {
	t.Helper()
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		var w world
		s := newCanvasScreen(100, 30)
		w.Display = s.open
		test(s, w.begin(t, garage, append([]string{"live", "--practice"}, args...)...))
	})
}

// Who is told that hoses are swapped can swap them: the engine off first.
func TestPracticeHosesAreSwapped(t *testing.T) {
	onPractice(t, t.TempDir(), func(s *canvasScreen, _ *running) {
		s.await(t, "No zero yet")
		s.press("z")
		s.await(t, "Compare the sensors. Next")
		s.press("e")
		s.await(t, "Hoses seem to be swapped")
		s.await(t, "x swap hoses")
		s.press("x")
		s.await(t, "Engine off first")
		s.press("e")
		time.Sleep(5 * time.Second)
		s.await(t, "x swap hoses")
		s.press("x", "e")
		s.await(t, "Level the bank. Next")
	}, "exchanged-hoses", "--at", "zero")
}
