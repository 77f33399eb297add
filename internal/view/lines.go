package view

import (
	"fmt"
	"strings"
)

// keyless says what is done in place of a key where none is taken.
var keyless = strings.NewReplacer("Then press Enter.", "Then wait: it goes on by itself.",
	"\n"+handsFull, "",
	"hen z: five seconds", "hen end this run: evendraw zero", "hen z: zero again", "hen end this run: evendraw zero",
	"then z; hoses on, then start it", "then end this run: evendraw zero", "hen z.", "hen end this run: evendraw zero.",
	"ress g", "ress g (on the screen alone, not here)", "press f when the fan runs", "key f, on the screen alone",
	"press f when the fan is off", "key f, on the screen alone")

// withoutKeys rewrites a text where no key is taken.
func (v *View) withoutKeys(text string) string {
	if v.Headless {
		return keyless.Replace(text)
	}
	return text
}

// Line returns the view as one plain line, for a terminal that can't draw.
func (v *View) Line() string {
	p := v.Picture()
	var parts []string
	for _, t := range p.Head {
		parts = append(parts, t.Text)
	}
	if v.age() <= blankAfter {
		for _, l := range p.Lanes {
			s := l.Label + ": " + l.Draw
			if l.Shown && !l.Reference {
				s += " (" + l.Difference + ")"
			}
			if l.Fault != "" {
				s += " " + l.Fault
			}
			parts = append(parts, s)
		}
	}
	parts = append(parts, p.Big+": "+strings.Join(p.Say, " "))
	for _, t := range p.Foot {
		parts = append(parts, v.withoutKeys(t.Text))
	}
	if r := v.reading(); r != nil {
		return fmt.Sprintf("%7.1f s | ", r.Time) + strings.Join(parts, " | ")
	}
	return strings.Join(parts, " | ")
}
