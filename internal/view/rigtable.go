package view

import (
	"math"
	"slices"
	"strings"

	"evendraw/internal/plain"
	"evendraw/internal/rigfacts"
	"evendraw/internal/session"
	"evendraw/internal/suspects"
	"evendraw/internal/waves"
)

// waves returns the last cycle; blank leaves it out.
func (v *View) waves(blank bool) *waves.Picture {
	var wave *session.Wave
	if !blank {
		wave = v.snap().Wave
	}
	w := waves.Of(wave, &v.snap().Bank, v.snap().Config.Ambient, v.Unit)
	if r := v.reading(); r != nil {
		for c := range w.Strips[:min(len(w.Strips), len(r.Cylinders))] {
			w.Strips[c].Fault = suspects.States[r.Cylinders[c].State]
		}
	}
	return w
}

// noteLines parts a note into a line for each sentence, and one without its quotes for what is to be typed.
var noteLines = strings.NewReplacer(`: "`, ":\n", `". `, "\n", ". ", ".\n")

// rigTable is what is known of every channel, and of the line.
func (v *View) rigTable() *Table {
	t := &Table{Rows: [][]string{rigfacts.Head}, Roles: []Role{Dim}}
	if v.snap().Board == nil {
		t.Below = []Text{{"No board has answered yet.", Plain}}
		if v.Page == PageRig && v.LinkNote != "" {
			for line := range strings.SplitSeq(noteLines.Replace(plain.Text(v.LinkNote)), "\n") {
				t.Below = append(t.Below, Text{line, Warn})
			}
		}
		return v.scrolled(t)
	}
	for _, c := range rigfacts.Channels(v.Snap, v.Unit, v.age() <= blankAfter) {
		role := map[bool]Role{false: Dim, true: Plain}[c.Used]
		if c.Bad {
			role = Warn
		}
		t.Rows, t.Roles = append(t.Rows, c.Cells), append(t.Roles, role)
	}
	arrive := math.NaN()
	if v.rate.Seconds > 0 {
		arrive = v.rate.PerSecond
	}
	lines, bad := rigfacts.Line(v.Snap, arrive)
	for _, line := range lines {
		t.Below = append(t.Below, Text{line, Plain})
	}
	if bad {
		t.Below[1].Role = Warn
	}
	return v.scrolled(t)
}

// scrolled leaves out of the board's page what was scrolled past: rows, but their head, then lines.
func (v *View) scrolled(t *Table) *Table {
	if v.Page == PageRig && v.Cursor > 0 {
		rows := min(v.Cursor, len(t.Rows)-1)
		t.Rows, t.Roles = slices.Delete(t.Rows, 1, 1+rows), slices.Delete(t.Roles, 1, 1+rows)
		t.Below = t.Below[min(v.Cursor-rows, len(t.Below)-1):]
	}
	return t
}
