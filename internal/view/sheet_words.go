package view

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"evendraw/internal/garage"
	"evendraw/internal/tell"
)

// settingWords are the settings of a carburettor, with what they are counted in.
var settingWords = map[string]struct{ name, unit string }{
	garage.FieldPilotTurns:  {"pilot screw", "turns out"},
	garage.FieldMainJet:     {"main jet", ""},
	garage.FieldPilotJet:    {"pilot jet", ""},
	garage.FieldNeedle:      {"needle", ""},
	garage.FieldNeedleClip:  {"needle clip", "groove from the top"},
	garage.FieldFloatHeight: {"float height", "mm"},
	garage.FieldGaskets:     {"gaskets", ""},
	garage.FieldORings:      {"O-rings", ""},
}

// SettingName is the name of a carburettor's setting.
func SettingName(field string) string {
	if w, ok := settingWords[field]; ok {
		return w.name
	}
	return tell.Plain(field)
}

// MomentWords says when a bench sheet was written.
func MomentWords(moment string) string {
	switch moment {
	case garage.SheetApart:
		return "as it came apart"
	case garage.SheetTogether:
		return "before it goes back"
	}
	return tell.Plain(moment)
}

// SheetHead is a bench sheet in one line.
func SheetHead(s *garage.BenchSheet) string {
	text := s.Time.Local().Format("2006-01-02 15:04") + "  " + MomentWords(s.Moment)
	var turns []string
	for i := range s.Carburettors {
		turns = append(turns, orDash(s.Carburettors[i].Text(garage.FieldPilotTurns)))
	}
	text += "  pilot screws " + strings.Join(turns, ", ")
	if s.Corrects != "" {
		text += "  corrects " + tell.Plain(s.Corrects)
	}
	return text
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return tell.Plain(s)
}

// Columns of a sheet's table.
const (
	settingColumn = 14
	carbColumn    = 11
)

// SheetLines is a bench sheet as a table, with remarks and warnings below.
func SheetLines(s *garage.BenchSheet) []string {
	lines := []string{fmt.Sprintf("%s, %s, %s", tell.Plain(s.Bike), MomentWords(s.Moment),
		s.Time.Local().Format("2006-01-02 15:04"))}
	if s.Bike == "" {
		lines[0] = MomentWords(s.Moment)
	}
	head := pad("", settingColumn)
	for i := range s.Carburettors {
		head += pad(fmt.Sprint(s.Carburettors[i].Cylinder), carbColumn)
	}
	lines = append(lines, strings.TrimRight(head, " "))
	for _, field := range garage.Fields() {
		row, noted := pad(SettingName(field), settingColumn), false
		for i := range s.Carburettors {
			text := s.Carburettors[i].Text(field)
			noted = noted || text != ""
			row += pad(orDash(text), carbColumn)
		}
		if noted {
			lines = append(lines, strings.TrimRight(row+settingWords[field].unit, " "))
		}
	}
	switch s.PilotScrews {
	case garage.FuelScrews:
		lines = append(lines, "fuel screws: out is richer")
	case garage.AirScrews:
		lines = append(lines, "air screws: out is leaner")
	}
	for i := range s.Carburettors {
		if n := s.Carburettors[i].Note; n != "" {
			lines = append(lines, fmt.Sprintf("carburettor %d: %s", s.Carburettors[i].Cylinder, tell.Plain(n)))
		}
	}
	if s.Note != "" {
		lines = append(lines, "remark: "+tell.Plain(s.Note))
	}
	return append(lines, OddLines(s)...)
}

// OddLines warn of settings that differ wildly between the carburettors of a sheet.
func OddLines(s *garage.BenchSheet) (lines []string) {
	for _, o := range s.Odds() {
		switch o.Field {
		case garage.FieldPilotTurns:
			lines = append(lines, fmt.Sprintf("Look again: the pilot screws stand up to %s turns apart (%s). "+
				"Was one miscounted, or does it hide another fault?",
				garage.FormatTurns(o.Apart), strings.Join(dashes(o.Values), ", ")))
		case garage.FieldFloatHeight:
			lines = append(lines, fmt.Sprintf("Look again: the float heights differ by %.3g mm (%s).", o.Apart,
				strings.Join(dashes(o.Values), ", ")))
		case garage.FieldMainJet, garage.FieldPilotJet, garage.FieldNeedle, garage.FieldNeedleClip:
			lines = append(lines, fmt.Sprintf("Look again: not every %s is the same (%s). "+
				"Some makers fit others to the inner carburettors: see the manual.",
				SettingName(o.Field), strings.Join(dashes(o.Values), ", ")))
		default:
			lines = append(lines, fmt.Sprintf("Look again: the %s are new on some carburettors only (%s).",
				SettingName(o.Field), strings.Join(dashes(o.Values), ", ")))
		}
	}
	return lines
}

func dashes(values []string) []string {
	var out []string
	for _, v := range values {
		out = append(out, orDash(v))
	}
	return out
}

// SheetChangeLines say what differs between two bench sheets.
func SheetChangeLines(a, b *garage.BenchSheet, changes []garage.SettingChange) []string {
	lines := []string{"from " + SheetHead(a), "to   " + SheetHead(b)}
	if len(changes) == 0 {
		return append(lines, "nothing that both sheets noted has changed")
	}
	for _, c := range changes {
		text := fmt.Sprintf("carburettor %d: %s %s → %s", c.Carburettor, SettingName(c.Field), tell.Plain(c.From),
			tell.Plain(c.To))
		if c.Field == garage.FieldPilotTurns {
			if moved := turnsMoved(c); !math.IsNaN(moved) {
				way := "out"
				if moved < 0 {
					way = "in"
				}
				text += fmt.Sprintf(" (%s %s)", garage.FormatTurns(math.Abs(moved)), way)
			}
		}
		lines = append(lines, text)
	}
	return lines
}

func turnsMoved(c garage.SettingChange) float64 {
	from, errFrom := garage.ParseTurns(c.From)
	to, errTo := garage.ParseTurns(c.To)
	if errFrom != nil || errTo != nil {
		return math.NaN()
	}
	return to - from
}

// pad fills a text up with spaces to a width in letters.
func pad(s string, width int) string {
	return s + strings.Repeat(" ", max(width-utf8.RuneCountInString(s), 1))
}

// SheetCautions stand at the foot of a printed page.
func SheetCautions() []string {
	return []string{
		"Run the engine outdoors only: exhaust holds carbon monoxide, which has no smell.",
		"Keep hands, hair, sleeves, leads and hoses from hot and moving parts, and petrol from heat and sparks. " +
			"A standing engine overheats in minutes.",
		"These figures are of the day and the engine's warmth then. " +
			"The maker's manual and the law of the place come first; where in doubt, ask a qualified mechanic.",
	}
}
