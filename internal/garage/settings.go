package garage

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"evendraw/internal/plain"
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
	FieldPilotParts  = "pilot_parts"
	FieldDiaphragm   = "diaphragm"
	FieldFuelScreen  = "fuel_screen"
)

// Odd is a setting that differs between carburettors by more than usual.
type Odd struct {
	Field string
	// Values are by carburettor, as text; "" where nothing was noted.
	Values []string
	// Apart is the largest minus the smallest, NaN where they are no numbers.
	Apart float64
}

// How far apart settings of one bank usually are. Common practice, no source: pilot screws stand within a turn, floats
// within a millimetre, and needles and jets are alike, but for banks whose maker chose otherwise for the inner ones.
const (
	oddTurns   = 1.0
	oddFloatMM = 1.0
)

// Odds returns the settings that differ wildly between the carburettors: numbers first.
func (s *BenchCard) Odds() (odds []Odd) {
	usual := map[string]float64{FieldPilotTurns: oddTurns, FieldFloatHeight: oddFloatMM}
	for _, field := range []string{FieldPilotTurns, FieldFloatHeight, FieldMainJet, FieldPilotJet, FieldNeedle,
		FieldNeedleClip,
		FieldGaskets, FieldORings} {
		o := Odd{Field: field, Apart: math.NaN()}
		low, high, first, differ := math.Inf(1), math.Inf(-1), "", false
		for i := range s.Carburettors {
			c := &s.Carburettors[i]
			text := c.Text(field)
			o.Values = append(o.Values, text)
			if first == "" {
				first = text
			}
			differ = differ || text != "" && !strings.EqualFold(text, first)
			if v, ok := c.at(field).(*NullFloat); ok && text != "" {
				low, high = min(low, float64(*v)), max(high, float64(*v))
			}
		}
		if most, ok := usual[field]; ok {
			o.Apart = high - low
			differ = o.Apart > most
		}
		if differ {
			odds = append(odds, o)
		}
	}
	return odds
}

// at returns where a setting stands, a *string, *int or *NullFloat.
func (c *Carburettor) at(field string) any {
	return map[string]any{FieldPilotTurns: &c.PilotTurnsOut, FieldMainJet: &c.MainJet, FieldPilotJet: &c.PilotJet,
		FieldNeedle: &c.Needle, FieldNeedleClip: &c.NeedleClip, FieldFloatHeight: &c.FloatHeightMM,
		FieldGaskets: &c.Gaskets, FieldORings: &c.ORings, FieldPilotParts: &c.PilotParts,
		FieldDiaphragm: &c.Diaphragm, FieldFuelScreen: &c.FuelScreen}[field]
}

// Text returns a setting as people write it, "" where nothing was noted.
func (c *Carburettor) Text(field string) string {
	switch v := c.at(field).(type) {
	case *string:
		return *v
	case *int:
		if *v != 0 {
			return strconv.Itoa(*v)
		}
	case *NullFloat:
		switch f := float64(*v); {
		case math.IsNaN(f):
		case field == FieldPilotTurns:
			return FormatTurns(f)
		default:
			return strconv.FormatFloat(f, 'f', -1, 64)
		}
	}
	return ""
}

// Fields are the settings of a carburettor, in the order of a card.
func Fields() []string {
	return []string{FieldPilotTurns, FieldMainJet, FieldPilotJet, FieldNeedle, FieldNeedleClip, FieldFloatHeight,
		FieldGaskets, FieldORings, FieldPilotParts, FieldDiaphragm, FieldFuelScreen}
}

// Empty reports whether nothing is written down on a card; the kind of the pilot screws is the bike's, and does not
// count.
func (s *BenchCard) Empty() bool {
	noted := func(c Carburettor) bool {
		return c.Note != "" || slices.ContainsFunc(Fields(), func(field string) bool { return c.Text(field) != "" })
	}
	return s.Note+s.ScrewsFound+s.StopFound+s.ToOrder == "" && !slices.ContainsFunc(s.Carburettors, noted)
}

// IsTick reports whether a setting is a step of the assembly that is ticked for each carburettor.
func IsTick(field string) bool {
	return field == FieldPilotParts || field == FieldDiaphragm || field == FieldFuelScreen
}

// Set reads a setting as people write it; "" is not noted. The error says what is wrong with the text.
func (c *Carburettor) Set(field, text string) error {
	text = strings.TrimSpace(text)
	switch v := c.at(field).(type) {
	case *NullFloat:
		parse := ParseTurns
		if field == FieldFloatHeight {
			parse = parseFloatHeight
		}
		return setNumber(v, text, parse)
	case *int:
		n, err := strconv.Atoi(text)
		if text != "" && (err != nil || n < 1 || n > MaxNeedleClip) {
			return fmt.Errorf("%q is no groove from 1 to %d, counted from the top", text, MaxNeedleClip)
		}
		*v = n
		return nil
	case *string:
		if field == FieldGaskets || field == FieldORings {
			return setParts(v, text)
		}
		if IsTick(field) {
			return setTick(v, text)
		}
		return setText(v, text)
	}
	panic("garage: internal error: no field " + field)
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
	v, err := plain.Decimal(strings.TrimSuffix(text, "mm"))
	if err != nil || !(v > 0 && v <= MaxFloatHeightMM) {
		return 0, fmt.Errorf("%q is no float height above 0 and up to %d mm", text, MaxFloatHeightMM)
	}
	return v, nil
}

func setText(v *string, text string) error {
	if len(text) > maxSettingBytes {
		return fmt.Errorf("%q is too long: %d plain letters at most", text, maxSettingBytes)
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

// setTick reads a tick.
func setTick(v *string, text string) error {
	switch strings.ToLower(text) {
	case "":
		*v = ""
	case "x", "yes", PartsSeen:
		*v = PartsSeen
	default:
		return fmt.Errorf("%q is neither x nor empty", text)
	}
	return nil
}

// SettingChange is a setting that differs between two bench cards. From and To are texts, "" where nothing was noted.
type SettingChange struct {
	Carburettor int    `json:"carburettor"`
	Field       string `json:"field"`
	From        string `json:"from"`
	To          string `json:"to"`
}

// sameText reports whether two texts of a setting mean the same: 112,5 is 112.5, and letters count alike.
func sameText(a, b string) bool {
	return strings.EqualFold(strings.ReplaceAll(a, ",", "."), strings.ReplaceAll(b, ",", "."))
}

// CompareBench returns what differs from one card to another, where both noted it, by setting and carburettor.
func CompareBench(a, b *BenchCard) (changes []SettingChange) {
	for _, field := range Fields() {
		for i := range min(len(a.Carburettors), len(b.Carburettors)) {
			from, to := a.Carburettors[i].Text(field), b.Carburettors[i].Text(field)
			if from != "" && to != "" && !sameText(from, to) {
				changes = append(changes, SettingChange{i + 1, field, from, to})
			}
		}
	}
	return changes
}
