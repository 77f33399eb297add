package garage

import (
	"fmt"
	"strconv"
	"strings"

	"evendraw/internal/bank"
	"evendraw/internal/card"
)

// What is asked of a bike that is to get a card, as people type it.

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
	texts := make([]string, len(numbers))
	for i, n := range numbers {
		texts[i] = strconv.Itoa(n)
	}
	return strings.Join(texts, mark)
}

// ParseCylinders reads cylinders or channels: 1-2-4-3, 1,2,4,3, 1 2 4 3 or 1243; none has two digits.
func ParseCylinders(text string) ([]int, error) {
	if strings.Trim(text, "0123456789") == "" {
		text = strings.Join(strings.Split(text, ""), " ")
	}
	return parseList(text, "-–,; ")
}

// FormatCylinders writes cylinders in the order in which they fire: 1-2-4-3.
func FormatCylinders(numbers []int) string { return joinList(numbers, "-") }

// ParseScrews reads screws, each a name and the cylinders that it moves: 1-2:1 3-4:4 2-3:1,2.
func ParseScrews(text string) ([]bank.Screw, error) {
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

// FormatScrews writes screws as ParseScrews reads them.
func FormatScrews(screws []bank.Screw) string {
	texts := make([]string, len(screws))
	for i, s := range screws {
		texts[i] = s.Name + ":" + joinList(s.Moves, ",")
	}
	return strings.Join(texts, " ")
}

// RootOf is the carburettor that carries the throttle stop: the one that no screw moves, 0 where that is not one.
func RootOf(cylinders int, screws []bank.Screw) (root int) {
	b := bank.Bank{Screws: screws}
	for c := 1; c <= cylinders; c++ {
		moved := false
		for s := range screws {
			moved = moved || b.Moves(s, c)
		}
		switch {
		case moved:
		case root != 0:
			return 0
		default:
			root = c
		}
	}
	return root
}

// CheckBike says what keeps a bike from having a card, nil if nothing does.
func CheckBike(b *Bike) error {
	c := b.withDefaults()
	if _, _, err := parseBike("", bikeText(&c)); err != nil {
		return ofNoFile(err)
	}
	return nil
}

// checkRoot refuses a throttle stop on a carburettor that a screw moves against it: the two would be told in turns
// without end.
func checkRoot(t card.Table, b *bank.Bank) {
	for s := range b.Screws {
		if !b.Moves(s, b.Root) {
			continue
		}
		hint := ""
		if root := RootOf(b.Cylinders, b.Screws); root != 0 {
			hint = fmt.Sprintf(", here %d", root)
		}
		t.Fail("root", "carburettor %d carries the throttle stop, but screw %q moves it: the stop belongs to one "+
			"that no screw moves%s", b.Root, b.Screws[s].Name, hint)
		return
	}
}
