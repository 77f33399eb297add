package plain

import (
	"errors"
	"math"
	"strconv"
	"strings"
)

// errNoDecimal is why a text is no number.
var errNoDecimal = errors.New("is no number")

// Decimal reads a number as people write it, with a point or a comma before its decimals: 0.5 or 0,5.
func Decimal(text string) (float64, error) {
	text = strings.TrimSpace(text)
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(text, "xXpP_") {
		return 0, errNoDecimal
	}
	return v, nil
}

// MayBeThousands reports whether a comma or a point in a number may part its thousands: 1,250 or 1.250, not 0,250.
func MayBeThousands(text string) bool {
	text = strings.TrimSpace(text)
	at := strings.IndexAny(text, ",.")
	if at < 1 || at > 3 || text[0] == '0' || len(text)-at != len(",000") {
		return false
	}
	return strings.Trim(text[:at]+text[at+1:], "0123456789") == ""
}
