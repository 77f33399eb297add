package screen

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/effort"
	"evendraw/internal/hoses"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// practising puts a practice engine in the place of a bike.
func practising(change func(*session.Snapshot, *view.View)) func(*session.Snapshot, *view.View) {
	return func(s *session.Snapshot, v *view.View) {
		change(s, v)
		v.Practice = &view.Practice{Running: true, Names: []string{"1-2", "3-4", "2-3", view.StopName, "pilot 1"},
			Turns: make([]float64, 5)}
	}
}

// asking are states in which a key is asked for.
var asking = map[string]view.View{
	"hoses-ok": at(view.StepHoses, practising(func(s *session.Snapshot, v *view.View) {
		s.Reading.Hoses = hoses.Order{Verdict: hoses.AsExpected, Unseen: [][2]int{{1, 4}, {2, 3}}}
	})),
	"hoses-unseen":  at(view.StepHoses, practising(func(*session.Snapshot, *view.View) {})),
	"practice-nut":  with(practising(advised(advice.Recheck, advice.WhyNuts))),
	"practice-blip": at(view.StepBlip, practising(levelAnd(advised(advice.Recheck, advice.WhyBlip)))),
	"practice-idle": at(view.StepIdle, practising(level)), "idle-asked": at(view.StepIdle, level),
	"practice-raised": at(view.StepRaised, practising(level)),
}

// checkSays checks that a canvas shows some sentences and keys, and returns all that it shows. The letters of a turn
// may need all rows of a low one.
func checkSays(t *testing.T, c *Canvas, p *view.Picture, must []string) []string {
	t.Helper()
	text := strings.Join(strings.Fields(c.String()), " ")
	lacks := func(s string) bool {
		if c.ASCII {
			s = strings.Map(plainRune, s)
		}
		return s != view.HelpKey && !strings.Contains(text, s)
	}
	for _, s := range must {
		if turning := p.Arrow != 0 && c.Height <= stepHeight; lacks(s) && !(turning && slices.Contains(p.Say, s)) {
			t.Errorf("%dx%d, ASCII %v, lacks %q:\n%s", c.Width, c.Height, c.ASCII, s, c)
		}
	}
	return slices.DeleteFunc(slices.Concat(p.Say, p.Keys), lacks)
}

// What a window that is at least as wide and as high holds too: the sentences and the keys of a smaller one. And at
// every size the page of a step has its sentence, and the key that is asked for.
func TestALargerWindowNeverShowsLess(t *testing.T) {
	t.Parallel()
	sizes := effort.Of([][2]int{{40, 12}, {44, 14}, {60, 17}, {60, 18}, {80, 24}, {120, 40}},
		[][2]int{{40, 12}, {40, 13}, {41, 14}, {44, 15}, {50, 16}, {60, 17}, {60, 18}, {70, 19}, {80, 20}, {80, 21},
			{80, 22}, {80, 23}, {80, 24}, {90, 28}, {100, 30}, {120, 36}, {120, 40}, {132, 43}, {160, 50}, {220, 60}})
	all := maps.Clone(states)
	maps.Copy(all, asking)
	for name, v := range all {
		t.Run(name, func(t *testing.T) {
			p := v.Picture()
			must := slices.DeleteFunc(slices.Clone(p.Keys), func(k string) bool {
				return !strings.HasPrefix(k, "Enter") && k != "b blip" && k != "v raised speed"
			})
			if p.Help == nil && p.Waves == nil && p.Phone == nil && !v.Alone && v.Page != view.PageSteps &&
				len(p.Say) > 0 {
				must = append(must, p.Say[0])
			}
			for _, ascii := range effort.Of([]bool{false}, []bool{false, true}) {
				var before []string
				for _, size := range sizes {
					c := NewCanvas(size[0], size[1])
					c.ASCII = ascii
					Draw(c, &v)
					before = checkSays(t, c, &p, append(before, must...))
				}
			}
		})
	}
}

// What must be read stands whole in the smallest window, and a turn the other way says which one it is of.
func TestTheSmallestWindowKeepsWhatMustBeRead(t *testing.T) {
	t.Parallel()
	all := maps.Clone(states)
	maps.Copy(all, asking)
	for name, v := range all {
		p := v.Picture()
		if !p.Read && p.Screw == "" || v.Page != view.PageStep {
			continue
		}
		c := NewCanvas(smallWidth, smallHeight)
		Draw(c, &v)
		text := strings.Join(strings.Fields(c.String()), " ")
		for i, s := range p.Say {
			waits := strings.HasPrefix(s, "To see the records later") || strings.HasPrefix(s, "evendraw") // later
			if !strings.Contains(text, s) && (p.Read || i == 0) && !waits {
				t.Errorf("%s lacks %q:\n%s", name, s, c)
			}
		}
	}
}

// Whatever is asked, the end of what is typed is to be seen, and the question whole.
func TestWhatIsTypedIsSeen(t *testing.T) {
	t.Parallel()
	remark := strings.Split(strings.Repeat("new boots ", 6), "")
	for name, v := range map[string]view.View{
		"1000-1100": with(func(s *session.Snapshot, v *view.View) {
			*v = v.StartAt(view.StepIdle)
			keys(append([]string{view.KeyEnter}, strings.Split("1000-1100", "")...)...)(s, v)
		}),
		"boots": with(keys(append([]string{"m"}, remark...)...)),
	} {
		for _, size := range [][2]int{{40, 12}, {60, 18}, {80, 24}, {120, 40}} {
			c := NewCanvas(size[0], size[1])
			Draw(c, &v)
			text := strings.Join(strings.Fields(c.String()), " ")
			if !strings.Contains(text, name+"█") && !strings.Contains(text, name+" █") ||
				!strings.Contains(text, v.Entry.Prompt+":") {
				t.Errorf("%dx%d, typed %q:\n%s", size[0], size[1], v.Entry.Text, c)
			}
		}
	}
}

// The board's page is read to its end in a low window, by scrolling.
func TestTheBoardsPageIsReadToItsEnd(t *testing.T) {
	t.Parallel()
	for name, words := range map[string]string{"rig-none": states["rig-none"].LinkNote, "rig": "missed by the board, " +
		"0 doubled, 0 restarts. Air pressure 101.3 kPa,"} {
		v, seen := states[name], ""
		for range 12 {
			c := NewCanvas(40, 12)
			Draw(c, &v)
			seen += c.String()
			v = view.Update(v, view.KeyPress{Key: view.KeyDown})
		}
		for _, word := range strings.Fields(strings.NewReplacer(`".`, "", `"`, "").Replace(words)) { // typed without
			if !strings.Contains(seen, word) {
				t.Errorf("%s: no %q", name, word)
			}
		}
	}
}

// Each letter of the large words and amounts has a shape of its own: what has none is drawn as a question mark.
func TestLargeWordsHaveLetters(t *testing.T) {
	t.Parallel()
	for name, v := range states {
		p := v.Picture()
		for _, r := range strings.ToUpper("+" + view.Between(p.Screw) + p.Big + p.Way + p.Amount) {
			if _, ok := fontOf[r]; !ok {
				t.Errorf("%s: %q has none", name, r)
			}
		}
	}
}

// Where the practice's screws leave no room for all words before them, that its engine runs is said longest.
func TestThePracticeLineKeepsTheEngine(t *testing.T) {
	t.Parallel()
	for width, want := range map[int]string{
		120: "Practice, engine running: [1-2 chosen](turned +1 1/16)  3-4 (at −1 1/16)",
		94:  "engine running: [1-2 chosen](turned +1 1/16)", 79: "[1-2 chosen](turned +1 1/16)"} {
		v := at(view.StepLevel, practising(level))
		v.Practice.Turns = []float64{1.0625, -1.0625, 0.125, 0, 0}
		p := v.Picture()
		c := NewCanvas(width, 1)
		c.drawPractice(&p, 0)
		if got := c.String(); !strings.HasPrefix(got, want) {
			t.Errorf("%d columns: %q", width, got)
		}
	}
}

// drawLess makes all cylinders draw so little that it is told.
func drawLess(s *session.Snapshot, by pressure.KPa) {
	s.Reading.Halts.LowDraw = true
	for i := range s.Reading.Cylinders {
		s.Reading.Cylinders[i].Draw -= by
	}
}
