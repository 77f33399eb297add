package view

import (
	"fmt"
	"slices"
	"strings"

	"evendraw/internal/cycle"
	"evendraw/internal/plain"
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
	t := &Table{Rows: [][]string{{"channel", "cylinder", "kind", "zero error", "counts", "volts", "state"}},
		Roles: []Role{Dim}}
	if v.snap().Board == nil {
		t.Below = []Text{{"No board has answered yet.", Plain}}
		if v.Page == PageRig && v.LinkNote != "" {
			for line := range strings.SplitSeq(noteLines.Replace(plain.Text(v.LinkNote)), "\n") {
				t.Below = append(t.Below, Text{line, Warn})
			}
		}
		return v.scrolled(t)
	}
	a, cfg := v.Snap.Board, &v.Snap.Config
	for i, ch := range a.Channels {
		row, role := v.channelRow(i, string(ch.Role))
		t.Rows, t.Roles = append(t.Rows, row), append(t.Roles, role)
	}
	l, come := v.Snap.Link, plain.Dash+" arrive"
	if v.rate.Seconds > 0 {
		come = fmt.Sprintf("%.0f arrive", v.rate.PerSecond)
	}
	t.Below = []Text{
		{fmt.Sprintf("Board %s, %s, program %s: %d bits. Frames a second: %d asked for, %s. "+
			"A frame is one value of each channel.", plain.Text(a.Serial), plain.Text(a.Model),
			plain.Text(a.Program), a.Bits, a.Rate, come), Plain},
		{fmt.Sprintf("%d frames: %d lost, %d damaged, %d missed by the board, %d doubled, %d restarts.",
			l.Frames, l.Lost, l.Damaged, l.Overflows, l.Duplicates, l.Restarts), Plain},
		{fmt.Sprintf("Air pressure %.1f kPa, %s.", float64(cfg.Ambient), ambientFrom[cfg.AmbientFrom]), Plain},
	}
	if l.Lost+l.Damaged+l.Overflows > 0 {
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

// channelRow is one channel's row of the rig's table.
func (v *View) channelRow(i int, use string) ([]string, Role) {
	a, cfg := v.Snap.Board, &v.Snap.Config
	count := v.Snap.Counts[i]
	row := []string{fmt.Sprint(i), plain.Dash, use, plain.Dash, fmt.Sprint(count),
		fmt.Sprintf("%.3f", float64(count)/float64(uint32(1)<<a.Bits)*float64(a.ReferenceMV)/1000), "not used"}
	if v.age() > blankAfter {
		row[4], row[5] = plain.Dash, plain.Dash
	}
	role := Dim
	if c := slices.Index(v.Snap.Bank.Channels, i); c >= 0 {
		kind := cfg.Setup.Kind(i)
		row[1], row[2], row[6], role = fmt.Sprint(c+1), kind.Name, plain.Dash, Plain
		if cfg.Zeroed && i < len(cfg.Setup.Offsets) {
			row[3] = v.Unit.FormatSigned(cfg.Setup.Offsets[i]) + " " + v.Unit.Name
		}
		if r := v.reading(); r != nil && c < len(r.Cylinders) && v.age() <= blankAfter {
			row[6] = "good"
			if f := suspects.States[r.Cylinders[c].State]; f != "" {
				row[6], role = f, Warn
			}
			if r.Cylinders[c].State == cycle.NoPulse && !r.Span.Cycle {
				row[6], role = "quiet", Plain
			}
		}
	}
	return row, role
}

// ambientFrom says where the air pressure is from.
var ambientFrom = map[session.AmbientFrom]string{session.FromZeroPass: "from zeroing", session.FromUser: "as given",
	session.FromStandard: "assumed: the standard atmosphere"}
