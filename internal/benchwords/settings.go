package benchwords

import (
	"fmt"
	"strings"

	"evendraw/internal/garage"
	"evendraw/internal/plain"
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
	garage.FieldPilotParts:  {"pilot parts", "spring, washer, O-ring"},
	garage.FieldDiaphragm:   {"diaphragm", "edge in its groove"},
	garage.FieldFuelScreen:  {"fuel screen", "in and clean"},
}

// SettingName is the name of a carburettor's setting.
func SettingName(field string) string {
	if w, ok := settingWords[field]; ok {
		return w.name
	}
	return plain.Text(field)
}

// SettingUnit is what a carburettor's setting is counted in, "" for nothing.
func SettingUnit(field string) string { return settingWords[field].unit }

// MomentWords says when a bench card was written.
func MomentWords(moment string) string {
	switch moment {
	case garage.BenchApart:
		return "as it came apart"
	case garage.BenchTogether:
		return "as it goes back on"
	}
	return plain.Text(moment)
}

// OddLines warn of settings that differ wildly between the carburettors of a card.
func OddLines(s *garage.BenchCard) (lines []string) {
	for _, o := range s.Odds() {
		switch o.Field {
		case garage.FieldPilotTurns:
			lines = append(lines, fmt.Sprintf("Look again: the pilot screws are up to %s turns apart (%s). Was "+
				"one miscounted, or is there another fault?",
				garage.FormatTurns(o.Apart), strings.Join(dashes(o.Values), ", ")))
		case garage.FieldFloatHeight:
			lines = append(lines, fmt.Sprintf("Look again: the float heights differ by %.3g mm (%s).", o.Apart,
				strings.Join(dashes(o.Values), ", ")))
		case garage.FieldMainJet, garage.FieldPilotJet, garage.FieldNeedle, garage.FieldNeedleClip:
			lines = append(lines, fmt.Sprintf("Look again: not every %s is the same (%s). Some makers fit others to "+
				"the inner carburettors: see the manual.", SettingName(o.Field), strings.Join(dashes(o.Values), ", ")))
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
		out = append(out, plain.OrDash(v))
	}
	return out
}
