package tell

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"evendraw/internal/cycle"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/suspects"
	"evendraw/internal/view"
)

// verdictWords say how a recorded run ended.
var verdictWords = map[string]string{garage.VerdictDone: "level", garage.VerdictDoubt: "level, in doubt",
	garage.VerdictSaved: "saved early", garage.VerdictUnfinished: "cut off"}

// VerdictWords says how a recorded run ended, and whether the engine may have been cold.
func VerdictWords(verdict, warmth string) string {
	if verdict == garage.VerdictDone && warmth == garage.WarmthPassed {
		return "level, cold?"
	}
	return cmp.Or(verdictWords[verdict], plain.Text(verdict))
}

// historyLine is a record in one line of a list.
func historyLine(s *garage.StoredSync, u pressure.Unit) string {
	r, after := &s.Kept, s.Kept.After.Known()
	text := fmt.Sprintf("%5s  %s  %-15s  %6s → %-6s", s.Number, plain.Minute(r.Time), VerdictWords(r.Verdict, r.Warmth),
		u.Format(pressure.KPa(r.Before.Known().SpreadKPa)), u.Format(pressure.KPa(after.SpreadKPa)))
	text += fmt.Sprintf(" %-4s", u.Name)
	if rpm := float64(after.RPM); !math.IsNaN(rpm) {
		text += fmt.Sprintf("  %.0f rpm", rpm)
	}
	text += plain.LeftOut(after.LeftOut())
	text += NotZeroed(r, "  ")
	if r.Note != "" {
		text += "  " + plain.Text(strings.ReplaceAll(r.Note, "\n", " "))
	}
	return text
}

// Record prints a record in full.
func Record(out io.Writer, s *garage.StoredSync, u pressure.Unit, asJSON bool) error {
	return show(out, asJSON, &s.Kept, recordLines(s, u))
}

func recordLines(s *garage.StoredSync, u pressure.Unit) []string {
	r := &s.Kept
	lines := []string{fmt.Sprintf("%s, %s, %s", plain.Text(r.Bike), plain.Minute(r.Time),
		VerdictWords(r.Verdict, r.Warmth))}
	add := func(format string, args ...any) { lines = append(lines, "  "+fmt.Sprintf(format, args...)) }
	if r.Corrects != "" {
		add("%s", Corrects(s.Corrects()))
	}
	if s.By.N != 0 {
		add("%s: that one holds now", CorrectedBy(s.By))
	}
	for _, moment := range []struct {
		name    string
		reading *garage.RecordReading
	}{{"before", r.Before}, {"after", r.After}, {"raised speed", r.Raised}} {
		if moment.reading != nil {
			lines = append(lines, readingLines(moment.name+NotZeroed(r, ", "), moment.reading, r.Reference, u)...)
		}
	}
	for _, fact := range Facts(r, u) {
		add("%s: %s", fact.Name, fact.Text)
	}
	add("%s", Sensors(r))
	for _, turned := range append(TurnedLines(r), PilotLines(r)...) {
		add("%s", turned)
	}
	if r.PilotTurnsOut != nil {
		add("pilot screws %s turns out", turnsOut(r.PilotTurnsOut))
	}
	if r.Board.Serial != "" {
		add("board %s, program %s; evendraw %s", plain.Text(r.Board.Serial), plain.Text(r.Board.Program),
			plain.Text(r.Program))
	}
	if r.Capture != "" {
		add("capture %s", plain.Text(r.Capture))
	}
	if r.Note != "" {
		add("remark: %s", plain.Text(strings.ReplaceAll(r.Note, "\n", " ")))
	}
	return lines
}

// turnsOut lists turns out, with commas.
func turnsOut(turns []garage.NullFloat) string {
	var list []string
	for _, t := range turns {
		list = append(list, garage.FormatTurns(float64(t)))
	}
	return strings.Join(list, ", ")
}

// Spread is that of a reading of a record, with how sure it is, and what it leaves out.
func Spread(r *garage.RecordReading, u pressure.Unit) string {
	text := u.Format(pressure.KPa(r.SpreadKPa)) + " " + u.Name
	if v := pressure.KPa(r.SpreadUncertaintyKPa); !math.IsNaN(float64(v)) {
		text += " ±" + u.FormatUncertainty(v)
	}
	return text + plain.LeftOut(r.LeftOut())
}

// Difference is that of a cylinder to the reference, or says that it is that.
func Difference(c *garage.RecordCylinder, reference int, u pressure.Unit) string {
	if c.Cylinder == reference {
		return "reference"
	}
	text := u.FormatSigned(pressure.KPa(c.DifferenceKPa))
	if v := pressure.KPa(c.UncertaintyKPa); !math.IsNaN(float64(v)) {
		text += " ±" + u.FormatUncertainty(v)
	}
	return text
}

// readingLines are a reading of a record.
func readingLines(name string, r *garage.RecordReading, reference int, u pressure.Unit) []string {
	lines := []string{"  " + name + ": spread " + Spread(r, u)}
	if rpm := float64(r.RPM); !math.IsNaN(rpm) {
		lines[0] += fmt.Sprintf(", at %.0f rpm", rpm)
	}
	for i := range r.Cylinders {
		c := &r.Cylinders[i]
		text := fmt.Sprintf("    cylinder %d  vacuum %6s  %s", c.Cylinder, u.Format(pressure.KPa(c.DrawKPa)),
			Difference(c, reference, u))
		if o := float64(c.OpeningRatio); !math.IsNaN(o) {
			text += fmt.Sprintf("  opening %.3f", o)
		}
		if word := suspects.States[cycle.State(c.State)]; word != "" {
			text += "  " + word
		}
		lines = append(lines, text)
	}
	return lines
}

// laneHalf is how many columns a printed lane has on either side of its middle.
const laneHalf = 20

// PlaceLane draws each cylinder's place, its draw minus the mean of all, as its number on a line whose ends are ±scale.
// Where several stand in one column the lane shows *, and one beyond the end < or >.
func PlaceLane(places []pressure.KPa, scale pressure.KPa) string {
	lane := []rune(strings.Repeat("·", laneHalf) + "|" + strings.Repeat("·", laneHalf))
	for i, p := range places {
		if math.IsNaN(float64(p)) {
			continue
		}
		x, mark := laneHalf+int(math.Round(float64(p/scale)*laneHalf)), rune('1'+i)
		if x < 0 {
			x, mark = 0, '<'
		} else if x > 2*laneHalf {
			x, mark = 2*laneHalf, '>'
		}
		if lane[x] != '·' && lane[x] != '|' {
			mark = '*'
		}
		lane[x] = mark
	}
	return string(lane)
}

// scaleFor returns the smallest scale of the live lanes that holds all places.
func scaleFor(sets ...[]pressure.KPa) pressure.KPa {
	most := pressure.KPa(0)
	for _, set := range sets {
		for _, p := range set {
			if !math.IsNaN(float64(p)) {
				most = max(most, p, -p)
			}
		}
	}
	return view.LaneScale(most)
}

// laneHead is the line over printed lanes.
func laneHead(indent int, scale pressure.KPa, u pressure.Unit) string {
	left, right := "less vacuum −"+u.Format(scale), "+"+u.Format(scale)+" "+u.Name+" more vacuum"
	return strings.Repeat(" ", indent) + left +
		strings.Repeat(" ", max(2*laneHalf+1-len([]rune(left))-len([]rune(right)), 1)) + right
}

// trendShown is how many of the newest records a printed trend has lanes for. Chosen: a screen.
const trendShown = 12

func trendLines(t *garage.Trend, u pressure.Unit) []string {
	if len(t.Points) == 0 {
		return []string{"no records with readings: evendraw live makes them; --bike takes another bike"}
	}
	points := t.Points[max(len(t.Points)-trendShown, 0):]
	var sets [][]pressure.KPa
	for _, p := range points {
		sets = append(sets, p.Before, p.After)
	}
	scale := scaleFor(sets...)
	lines := []string{"Each cylinder's vacuum against the mean of all, before (b) and after (a) each levelling:",
		laneHead(20, scale, u)}
	for _, p := range points {
		mark := notZeroed(p.Zeroed, "  ")
		if p.Before != nil {
			lines = append(lines, fmt.Sprintf("%s  b %s%s", plain.Minute(p.Time), PlaceLane(p.Before, scale), mark))
		}
		if p.After != nil {
			lines = append(lines, fmt.Sprintf("%16s  a %s%s", "", PlaceLane(p.After, scale), mark))
		}
	}
	lines = append(lines, "")
	lines = append(lines, driftLines(t, u)...)
	for _, e := range t.Effects {
		low, high := slices.Min(e.KPaPerTurn), slices.Max(e.KPaPerTurn)
		n := len(e.KPaPerTurn)
		last := pressure.KPa(e.KPaPerTurn[n-1])
		line := fmt.Sprintf("screw %s: %s%s %s of vacuum per turn clockwise", plain.Text(e.Screw), u.FormatSigned(last),
			between(last, e.Factors[n-1], u), u.Name)
		if n > 1 {
			line += fmt.Sprintf(" now; from %s to %s in %d records", u.FormatSigned(pressure.KPa(low)),
				u.FormatSigned(pressure.KPa(high)), n)
		}
		lines = append(lines, line)
	}
	return lines
}

// driftLines say which cylinder moves away between two levellings.
func driftLines(t *garage.Trend, u pressure.Unit) (lines []string) {
	if slices.ContainsFunc(t.Points, func(p garage.TrendPoint) bool { return !p.Zeroed }) {
		lines = append(lines, "Records without a zero pass count for no drift: the sensors' own zero "+
			"errors are in them.")
	}
	if len(t.Drifts) == 0 {
		return append(lines, "One levelling shows no drift yet: that takes the look at the next one.")
	}
	drifting := false
	for i := range t.Drifts {
		d := &t.Drifts[i]
		way := "more vacuum"
		if d.Mean < 0 {
			way = "less vacuum"
		}
		text := fmt.Sprintf("cylinder %d: %s %s by the next look", d.Cylinder, u.FormatSigned(d.Mean), u.Name)
		if !math.IsNaN(float64(d.HalfWidth)) {
			text += fmt.Sprintf(", ±%s", u.Format(d.HalfWidth))
		}
		text += fmt.Sprintf(" (%s %d of %d times)", way, d.Same, d.Times)
		if d.Real() {
			drifting = true
			text += "  ◂ drifts"
		}
		lines = append(lines, text)
	}
	if !drifting {
		return append(lines, "No cylinder's drift is larger than the aim and stands out from its scatter.")
	}
	return append(lines, "A carburettor that drifts the same way again: look at its screw's spring and lock nut, "+
		"its linkage and its boot.")
}

// Compare prints what differs between two readings with names, by cylinder and by bank.
func Compare(out io.Writer, a, b *garage.RecordReading, nameA, nameB string, u pressure.Unit, asJSON bool) error {
	return show(out, asJSON, map[string]any{"from": a, "to": b, "from_name": nameA, "to_name": nameB},
		compareLines(a, b, plain.Text(nameA), plain.Text(nameB), u))
}

func compareLines(a, b *garage.RecordReading, nameA, nameB string, u pressure.Unit) []string {
	placesA, placesB := garage.PlacesOf(a), garage.PlacesOf(b)
	scale := scaleFor(placesA, placesB)
	width := max(len([]rune(nameA)), len([]rune(nameB)))
	lines := []string{laneHead(width+1, scale, u), pad(nameA, width+1) + PlaceLane(placesA, scale),
		pad(nameB, width+1) + PlaceLane(placesB, scale), "",
		fmt.Sprintf("spread      %s%s → %s %s%s", u.Format(pressure.KPa(a.SpreadKPa)), plain.LeftOut(a.LeftOut()),
			u.Format(pressure.KPa(b.SpreadKPa)), u.Name, plain.LeftOut(b.LeftOut()))}
	if !math.IsNaN(float64(a.RPM)) && !math.IsNaN(float64(b.RPM)) {
		lines = append(lines, fmt.Sprintf("speed       %.0f → %.0f rpm", float64(a.RPM), float64(b.RPM)))
	}
	for c := range min(len(placesA), len(placesB)) {
		lines = append(lines, fmt.Sprintf("cylinder %d  %s → %s %s against the mean", c+1, u.FormatSigned(placesA[c]),
			u.FormatSigned(placesB[c]), u.Name))
	}
	if len(placesA) != len(placesB) {
		lines = append(lines, fmt.Sprintf("the banks have %d and %d cylinders", len(placesA), len(placesB)))
	}
	return lines
}
