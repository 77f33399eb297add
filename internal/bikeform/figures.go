package bikeform

import (
	"fmt"
	"strconv"
	"strings"

	"evendraw/internal/bank"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
)

// What is asked of a bike, as people type it.

// parseList reads whole numbers that any of the marks part.
func parseList(text, marks string) ([]int, error) {
	var out []int
	for _, s := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(marks, r) }) {
		n, err := strconv.Atoi(s)
		if err != nil {
			return nil, fmt.Errorf("%q is no whole number", s)
		}
		out = append(out, n)
	}
	return out, nil
}

// joinList writes whole numbers with a mark between.
func joinList(numbers []int, mark string) string {
	return strings.Trim(strings.ReplaceAll(fmt.Sprint(numbers), " ", mark), "[]")
}

// ParseCylinders reads cylinders or channels: 1-2-4-3, 1,2,4,3, 1 2 4 3 or 1243; none has two digits.
func ParseCylinders(text string) ([]int, error) {
	if strings.Trim(text, "0123456789") == "" {
		text = strings.Join(strings.Split(text, ""), " ")
	}
	return parseList(text, "-–,; ")
}

// parseScrews reads screws, each a name and the cylinders that it moves: 1-2:1 3-4:4 2-3:1,2.
func parseScrews(text string) ([]bank.Screw, error) {
	var out []bank.Screw
	for _, s := range strings.Fields(text) {
		name, moves, ok := strings.Cut(s, ":")
		if !ok {
			return nil, fmt.Errorf("%q: say which cylinders it moves, as 2-3:1,2", s)
		}
		cylinders, err := parseList(moves, ",")
		if err != nil {
			return nil, fmt.Errorf("screw %q: %w", s, err)
		}
		out = append(out, bank.Screw{Name: name, Moves: cylinders})
	}
	return out, nil
}

// formatScrews writes screws as parseScrews reads them.
func formatScrews(screws []bank.Screw) string {
	texts := make([]string, len(screws))
	for i, s := range screws {
		texts[i] = s.Name + ":" + joinList(s.Moves, ",")
	}
	return strings.Join(texts, " ")
}

const (
	// CommonIdle is an idle speed that is offered where none is known (common practice, no
	// source), as ParseIdle reads it.
	CommonIdle = "1000-1100"
	// idleEither is how far either way of a single speed an idle may be, rpm. Chosen.
	idleEither = 50.0
)

// ParseIdle reads an idle speed as manuals give it, in revolutions a minute: 1000-1100, or 1050 for 50 either way; ""
// and "-" are unknown, 0.
func ParseIdle(s string) (low, high float64, err error) {
	if s = strings.TrimSpace(s); s == "" || s == "-" {
		return 0, 0, nil
	}
	a, b, ranged := strings.Cut(strings.ReplaceAll(s, "–", "-"), "-")
	low, errA := plain.Decimal(a)
	if high = low; ranged {
		high, err = plain.Decimal(b)
	} else {
		low, high = low-idleEither, high+idleEither
	}
	switch {
	case errA != nil || err != nil:
		return 0, 0, fmt.Errorf("%q is no idle speed: write 1000-1100, or 1050 for 50 either way", s)
	case !(low >= garage.MinIdle && high <= garage.MaxIdle && low <= high):
		return 0, 0, fmt.Errorf("%q is not within %d to %d rpm, the lower first", s, garage.MinIdle, garage.MaxIdle)
	}
	return low, high, nil
}
