package garage

import (
	"evendraw/internal/plain"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Fields of a carburettor, as Odd and Compare name them.
const (
	FieldPilotTurns  = "pilot_turns_out"
	FieldMainJet     = "main_jet"
	FieldPilotJet    = "pilot_jet"
	FieldNeedle      = "needle"
	FieldNeedleClip  = "needle_clip"
	FieldFloatHeight = "float_height_mm"
	FieldGaskets     = "gaskets"
	FieldORings      = "o_rings"
)

// Odd is a setting that differs between carburettors by more than usual.
type Odd struct {
	Field string
	// Values are by carburettor, as text; "" where nothing was noted.
	Values []string
	// Apart is the largest minus the smallest, NaN where they are no numbers.
	Apart float64
}

// How far apart settings of one bank usually are. Common practice, no source: pilot
// screws stand within a turn, floats within a millimetre, and needles and jets
// are alike, but for banks whose maker chose otherwise for the inner ones.
const (
	oddTurns   = 1.0
	oddFloatMM = 1.0
)

// Odds returns the settings that differ wildly between the carburettors.
func (s *BenchSheet) Odds() (odds []Odd) {
	numbers := []struct {
		field string
		most  float64
		of    func(c *Carburettor) float64
		text  func(v float64) string
	}{
		{FieldPilotTurns, oddTurns, func(c *Carburettor) float64 { return float64(c.PilotTurnsOut) }, FormatTurns},
		{FieldFloatHeight, oddFloatMM, func(c *Carburettor) float64 { return float64(c.FloatHeightMM) },
			func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }},
	}
	for _, n := range numbers {
		low, high := math.Inf(1), math.Inf(-1)
		o := Odd{Field: n.field}
		for i := range s.Carburettors {
			v, text := n.of(&s.Carburettors[i]), ""
			if !math.IsNaN(v) {
				low, high, text = min(low, v), max(high, v), n.text(v)
			}
			o.Values = append(o.Values, text)
		}
		if o.Apart = high - low; o.Apart > n.most {
			odds = append(odds, o)
		}
	}
	for _, field := range []string{FieldMainJet, FieldPilotJet, FieldNeedle, FieldNeedleClip, FieldGaskets, FieldORings} {
		o := Odd{Field: field, Apart: math.NaN()}
		first, differ := "", false
		for i := range s.Carburettors {
			text := s.Carburettors[i].Text(field)
			o.Values = append(o.Values, text)
			if first == "" {
				first = text
			}
			differ = differ || text != "" && !strings.EqualFold(text, first)
		}
		if differ {
			odds = append(odds, o)
		}
	}
	return odds
}

// Text returns a setting as people write it, "" where nothing was noted.
func (c *Carburettor) Text(field string) string {
	number := func(v NullFloat, text func(float64) string) string {
		if math.IsNaN(float64(v)) {
			return ""
		}
		return text(float64(v))
	}
	switch field {
	case FieldPilotTurns:
		return number(c.PilotTurnsOut, FormatTurns)
	case FieldFloatHeight:
		return number(c.FloatHeightMM, func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) })
	case FieldNeedleClip:
		if c.NeedleClip == 0 {
			return ""
		}
		return strconv.Itoa(c.NeedleClip)
	case FieldMainJet:
		return c.MainJet
	case FieldPilotJet:
		return c.PilotJet
	case FieldNeedle:
		return c.Needle
	case FieldGaskets:
		return c.Gaskets
	case FieldORings:
		return c.ORings
	}
	return ""
}

// Fields are the settings of a carburettor, in the order of a sheet.
func Fields() []string {
	return []string{FieldPilotTurns, FieldMainJet, FieldPilotJet, FieldNeedle, FieldNeedleClip, FieldFloatHeight, FieldGaskets, FieldORings}
}

// Set reads a setting as people write it; "" is not noted. The error says what is wrong
// with the text.
func (c *Carburettor) Set(field, text string) error {
	text = strings.TrimSpace(text)
	switch field {
	case FieldPilotTurns:
		return setNumber(&c.PilotTurnsOut, text, ParseTurns)
	case FieldFloatHeight:
		return setNumber(&c.FloatHeightMM, text, parseFloatHeight)
	case FieldNeedleClip:
		n, err := strconv.Atoi(text)
		if text != "" && (err != nil || n < 1 || n > MaxNeedleClip) {
			return fmt.Errorf("%q is no groove from 1 to %d, counted from the top", text, MaxNeedleClip)
		}
		c.NeedleClip = n
	case FieldMainJet:
		return setText(&c.MainJet, text)
	case FieldPilotJet:
		return setText(&c.PilotJet, text)
	case FieldNeedle:
		return setText(&c.Needle, text)
	case FieldGaskets:
		return setParts(&c.Gaskets, text)
	case FieldORings:
		return setParts(&c.ORings, text)
	default:
		panic("garage: internal error: no field " + field)
	}
	return nil
}

func setNumber(v *NullFloat, text string, parse func(string) (float64, error)) error {
	if text == "" {
		*v = NullFloat(math.NaN())
		return nil
	}
	f, err := parse(text)
	if err == nil {
		*v = NullFloat(f)
	}
	return err
}

func parseFloatHeight(text string) (float64, error) {
	v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(strings.TrimSuffix(text, "mm")), ",", ".", 1), 64)
	if err != nil || !(v > 0 && v <= MaxFloatHeightMM) {
		return 0, fmt.Errorf("%q is no float height above 0 and up to %d mm", text, MaxFloatHeightMM)
	}
	return v, nil
}

func setText(v *string, text string) error {
	if len(text) > maxSettingBytes {
		return fmt.Errorf("%q is longer than %d bytes", text, maxSettingBytes)
	}
	*v = plain.Lines(text)
	return nil
}

// maxSettingBytes bounds what is stamped on a part. Chosen.
const maxSettingBytes = 20

// setParts reads renewed or reused, or as much of it as tells them apart.
func setParts(v *string, text string) error {
	switch lower := strings.ToLower(text); {
	case text == "":
		*v = ""
	case len(lower) >= 3 && strings.HasPrefix(PartsRenewed, lower), lower == "new", lower == "n":
		*v = PartsRenewed
	case len(lower) >= 3 && strings.HasPrefix(PartsReused, lower), lower == "old", lower == "o":
		*v = PartsReused
	default:
		return fmt.Errorf("%q is neither %s nor %s", text, PartsRenewed, PartsReused)
	}
	return nil
}

// SettingChange is a setting that differs between two bench sheets. From and To are
// texts, "" where nothing was noted.
type SettingChange struct {
	Carburettor int    `json:"carburettor"`
	Field       string `json:"field"`
	From        string `json:"from"`
	To          string `json:"to"`
}

// CompareSheets returns what differs from one sheet to another, where both noted it, by
// setting and carburettor.
func CompareSheets(a, b *BenchSheet) (changes []SettingChange) {
	for _, field := range Fields() {
		for i := range min(len(a.Carburettors), len(b.Carburettors)) {
			from, to := a.Carburettors[i].Text(field), b.Carburettors[i].Text(field)
			if from != "" && to != "" && !strings.EqualFold(from, to) {
				changes = append(changes, SettingChange{i + 1, field, from, to})
			}
		}
	}
	return changes
}
