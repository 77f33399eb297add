package garage

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"evendraw/internal/plain"
)

// MaxTurnsOut bounds how far a pilot screw stands out, in turns. Chosen: usual are 1
// to 3 (common practice, no source), and the thread of most ends well before.
const MaxTurnsOut = 10

// turnsPart is the part of a turn that pilot screws are counted in: an eye counts eighths, and the trim
// sets to half of that.
const turnsPart = 16

// fractionSigns are the signs of eighths of a turn.
var fractionSigns = map[rune]int{'⅛': 1, '¼': 2, '⅜': 3, '½': 4, '⅝': 5, '¾': 6, '⅞': 7}

// ParseTurns reads turns out from lightly seated, in sixteenths, as people write them:
// 2 1/4, 2-1/4, 2¼, 2.25, 2,25 or 1/4. The result is from 0 to MaxTurnsOut.
func ParseTurns(s string) (float64, error) {
	text := strings.TrimSpace(s)
	v, ok := decimalTurns(text)
	if !ok {
		v, ok = fractionTurns(text)
	}
	if !ok {
		return 0, fmt.Errorf("%q is no number of turns: write 1 7/8, 1.875, 1,875 or 1⅞", s)
	}
	if !(v >= 0 && v <= MaxTurnsOut) {
		return 0, fmt.Errorf("%q is not from 0 to %d turns", s, MaxTurnsOut)
	}
	parts := v * turnsPart
	if parts != math.Round(parts) {
		return 0, fmt.Errorf("%q does not fit, as turns go by sixteenths: write %s or %s", s,
			FormatTurns(math.Floor(parts)/turnsPart), FormatTurns(math.Ceil(parts)/turnsPart))
	}
	return v, nil
}

// decimalTurns reads 2, 2.25 or 2,25, and 2.125 cut to two places, 2.12 or 2.13.
func decimalTurns(s string) (float64, bool) {
	whole, part, _ := strings.Cut(strings.Replace(s, ",", ".", 1), ".")
	if strings.Trim(whole+part, "0123456789") != "" || whole+part == "" || len(whole) > 3 {
		return 0, false
	}
	v, err := strconv.ParseFloat("0"+whole+"."+part+"0", 64)
	if len(part) == 2 {
		if near := roundTurns(v); math.Abs(v-near) < 0.0051 {
			v = near
		}
	}
	return v, err == nil
}

// fractionTurns reads 2 1/4, 2-1/4, 2¼ and a fraction alone.
func fractionTurns(s string) (float64, bool) {
	for sign, eighths := range fractionSigns {
		if rest, ok := strings.CutSuffix(s, string(sign)); ok {
			s = strings.TrimSpace(rest) + fmt.Sprintf(" %d/8", eighths)
			break
		}
	}
	rest, below, ok := strings.Cut(s, "/")
	if !ok {
		return 0, false
	}
	rest, whole := strings.TrimSpace(rest), ""
	if i := strings.LastIndexAny(rest, " -"); i >= 0 {
		if whole, rest = strings.TrimRight(rest[:i], " -"), rest[i+1:]; whole == "" { // -1/4
			return 0, false
		}
	}
	above, errA := strconv.ParseUint(rest, 10, 8)
	n, errB := strconv.ParseUint(strings.TrimSpace(below), 10, 8)
	if errA != nil || errB != nil || n == 0 || above > n {
		return 0, false
	}
	v := float64(above) / float64(n)
	if whole != "" {
		w, err := strconv.ParseUint(whole, 10, 8)
		if err != nil {
			return 0, false
		}
		v += float64(w)
	}
	return v, true
}

// WayBack says how a screw is turned back that stands so many turns further out than it was: "in by 5/8 of a turn".
func WayBack(moved float64) string {
	way := "in"
	if moved < 0 {
		way = "out"
	}
	return way + " by " + plain.TurnsOf(roundTurns(math.Abs(moved)))
}

func roundTurns(turns float64) float64 { return math.Round(turns*turnsPart) / turnsPart }

// FormatTurns writes turns as people count them, to the nearest sixteenth: 2 1/4. NaN is "–".
func FormatTurns(turns float64) string {
	if math.IsNaN(turns) || math.IsInf(turns, 0) {
		return plain.Dash
	}
	sign := ""
	if turns < 0 {
		sign = "−"
	}
	return sign + plain.Fraction(roundTurns(turns))
}
