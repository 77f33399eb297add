package cli

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/garage"
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
		s.await(t, "x mend")
		s.press("x")
		s.await(t, "Engine off first")
		s.press("e")
		time.Sleep(5 * time.Second)
		s.await(t, "x mend")
		s.press("x", "e")
		s.await(t, "Level the bank. Next")
	}, "exchanged-hoses", "--at", "zero")
}

// A remark that was typed after the last save, or without one, is in a record; where nothing was read it is said.
func TestPracticeRemarkIsNotLost(t *testing.T) {
	for _, c := range []struct {
		at      string
		saves   []string
		records int
		told    string
	}{
		{"level", []string{"s"}, 2, "saved "},
		{"level", nil, 1, "saved "},
		{"checks", nil, 0, "there is no record for your remark: plug 2"},
		{"warm", []string{"e", "v"}, 0, "there is no record for your remark: plug 2"}, // held raised
	} {
		t.Run(c.told+strings.Join(c.saves, ""), func(t *testing.T) {
			dir := t.TempDir()
			onPractice(t, dir, func(s *canvasScreen, r *running) {
				if c.records > 0 {
					s.press("e")
					s.await(t, "reference")
				}
				s.press(c.saves...)
				time.Sleep(5 * time.Second)
				s.press("m", "pasted plug 2", "enter")
				time.Sleep(time.Second)
				s.press("q")
				<-r.ended
				if !strings.Contains(r.text(), c.told) || strings.Contains(r.text(), "nothing is saved") {
					t.Error(r.text())
				}
			}, "reversed-screw", "--at", c.at)
			kept, _ := filepath.Glob(filepath.Join(dir, "bikes", "practice-engine * reve*", "syncs", "*.level"))
			if len(kept) != c.records {
				t.Fatalf("records %q", kept)
			}
			if c.records > 0 {
				if text, _ := os.ReadFile(kept[len(kept)-1]); !strings.Contains(string(text), "plug 2") {
					t.Errorf("%s", text)
				}
			}
		})
	}
}

// Who leaves in the middle of a pilot screw's trial is told where it stands, and the way back.
func TestLeavingTellsOfAPilotInTrial(t *testing.T) {
	onPractice(t, t.TempDir(), func(s *canvasScreen, r *running) {
		s.press("e")
		s.await(t, "Enter begin")
		time.Sleep(10 * time.Second)
		s.press("enter")
		s.await(t, "Enter turned")
		time.Sleep(5 * time.Second) // a hand that turns
		s.press("enter")
		time.Sleep(2 * time.Second)
		s.press("q")
		<-r.ended
		text := strings.Join(strings.Fields(r.text()), " ")
		if !strings.Contains(text, "It stands in a trial position") || !strings.Contains(text, "(back: ") {
			t.Error(text)
		}
	}, "pilots-adrift", "--at", "pilots")
}

// Who leaves a practice in the middle of the trim keeps what was trimmed, as at a real bike.
func TestALeftPracticeKeepsItsTrim(t *testing.T) {
	dir := t.TempDir()
	onPractice(t, dir, func(s *canvasScreen, r *running) {
		s.press("e")
		s.await(t, "Enter begin")
		time.Sleep(10 * time.Second)
		s.press("enter")
		turn := func(name, amount string, clockwise bool) {
			for n := 0; n < 9 && !strings.Contains(s.picture(), "["+name+"]"); n++ {
				s.press("tab")
				time.Sleep(100 * time.Millisecond)
			}
			turns, err := garage.ParseTurns(strings.Replace(amount, "one", "1", 1))
			if err != nil {
				t.Fatal(err)
			}
			for range int(math.Round(16 * turns)) {
				s.press(map[bool]string{true: ".", false: ","}[clockwise])
				time.Sleep(200 * time.Millisecond)
			}
		}
		told := ""
		for n := 0; n < 400; n++ {
			time.Sleep(500 * time.Millisecond)
			text := strings.Join(strings.Fields(s.picture()), " ")
			made, stop := pilotTurn.FindStringSubmatch(text), stopTurn.FindStringSubmatch(text)
			switch {
			case made != nil && made[1] == "2": // screw 1 is done
				s.press("q")
				<-r.ended
				return
			case made != nil && made[0] != told:
				told = made[0]
				turn("pilot 1", made[3], made[2] == "in")
				s.press("enter")
			case stop != nil:
				turn("throttle stop", stop[2], stop[1] == "clockwise")
				time.Sleep(8 * time.Second)
			case strings.Contains(text, "HANDS OFF"):
				told = ""
			}
		}
		t.Errorf("screw 1 is not done:\n%s", s.picture())
	}, "pilots-adrift", "--at", "pilots")
	kept, _ := filepath.Glob(filepath.Join(dir, "bikes", "*", "syncs", "*.level"))
	if len(kept) != 1 {
		t.Fatalf("records %q", kept)
	}
	rec, err := garage.LoadSync(kept[0])
	if err != nil || len(rec.Pilots) == 0 || rec.Pilots[0].Found != "at-peak" && rec.Pilots[0].Found != "unsure" {
		t.Errorf("kept %+v, %v", rec.Pilots, err)
	}
}
