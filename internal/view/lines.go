package view

import (
	"fmt"
	"strings"

	"evendraw/internal/keyhelp"
)

// withoutKeys rewrites a text where no key is taken.
func (v *View) withoutKeys(text string) string {
	if v.Recording {
		text = keyhelp.Recording(text)
	} else if v.Headless {
		text = keyhelp.Lines(text)
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
		parts = append(parts, t.Text)
	}
	if r := v.reading(); r != nil {
		return fmt.Sprintf("%7.1f s | ", r.Time) + strings.Join(parts, " | ")
	}
	return strings.Join(parts, " | ")
}
