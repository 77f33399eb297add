package plain

import (
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// Dash stands where something is not known.
const Dash = "–"

// OrDash is a text from outside as Text has it, or Dash when it is empty.
func OrDash(s string) string {
	if s == "" {
		return Dash
	}
	return Text(s)
}

// And joins a list: "1, 2 and 3".
func And(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

// AndNumbers joins numbers likewise.
func AndNumbers(n []int) string {
	var list []string
	for _, i := range n {
		list = append(list, strconv.Itoa(i))
	}
	return And(list)
}

// LeftOut says beside a spread which cylinders it leaves out, "" for none.
func LeftOut(cylinders []int) string {
	if len(cylinders) == 0 {
		return ""
	}
	return ", without cylinder" + map[bool]string{true: "s"}[len(cylinders) > 1] + " " + AndNumbers(cylinders)
}

// Pairs names pairs of cylinders, with a word or sign between one pair and the next.
func Pairs(pairs [][2]int, with string) string {
	var names []string
	for _, p := range pairs {
		names = append(names, fmt.Sprintf("%d and %d", p[0], p[1]))
	}
	return strings.Join(names, with)
}

// Count writes how many there are of something.
func Count(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

// Clock writes seconds as minutes and seconds, rounded up: a countdown ends at 0:00. Who counts up rounds down
// before, so that what has passed and what is left make the limit.
func Clock(s float64) string {
	n := int(math.Ceil(s - 1e-9))
	return fmt.Sprintf("%d:%02d", n/60, n%60)
}

// clocks are what Clock writes.
var clocks = regexp.MustCompile(`[0-9]+:[0-9][0-9]`)

// WithoutClock returns a text without what Clock wrote into it: it stays the same while nothing but time passes.
func WithoutClock(text string) string { return clocks.ReplaceAllString(text, "") }

// Day writes a time as the local day.
func Day(t time.Time) string { return t.Local().Format("2006-01-02") }

// Minute writes a time as people read it, in local time.
func Minute(t time.Time) string { return t.Local().Format("2006-01-02 15:04") }

// Stamp writes a time as lines of JSON have it, to the millisecond.
func Stamp(t time.Time) string { return t.Format("2006-01-02T15:04:05.000Z07:00") }

// Age writes how long ago something was.
func Age(d time.Duration) string {
	switch {
	case d < 2*time.Hour:
		return fmt.Sprintf("%.0f minutes", d.Minutes())
	case d < 48*time.Hour:
		return fmt.Sprintf("%.0f hours", d.Hours())
	}
	return fmt.Sprintf("%.0f days", d.Hours()/24)
}

// Number is a figure in JSON: null where it is not known, which is NaN, or not finite.
type Number float64

// Unknown is a Number that is not known.
var Unknown = Number(math.NaN())

// MarshalJSON writes the number in full, or null.
func (n Number) MarshalJSON() ([]byte, error) {
	if math.IsNaN(float64(n)) || math.IsInf(float64(n), 0) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(n))
}

// UnmarshalJSON reads null as NaN.
func (n *Number) UnmarshalJSON(text []byte) error {
	if string(text) == "null" {
		*n = Unknown
		return nil
	}
	return json.Unmarshal(text, (*float64)(n))
}

// Minutes writes how long something took, s, to the second: 0 min 36 s.
func Minutes(s float64) string {
	n := int(math.Round(s))
	return fmt.Sprintf("%d min %02d s", n/60, n%60)
}
