package garage

import (
	"fmt"
	"math"
	"strings"
)

// SplitValues splits what was typed for n carburettors into their values; one value alone is for all. Semicolons part
// values, else commas do; but a comma may be a decimal one, as in 2,25: what gives the right number of values that
// are all valid is meant. check says what is wrong with a value; nil is for texts, in which a comma stands for a
// decimal point or parts.
func SplitValues(text string, n int, check func(string) error) ([]string, error) {
	var ways [][]string
	if strings.Contains(text, ";") {
		ways = [][]string{split(text, ";")}
	} else {
		if check == nil {
			check = checkComma
		}
		ways = [][]string{split(text, ", "), split(text, ",")}
	}
	var wrong error
	var found []string
	for _, values := range ways {
		switch err := checkValues(values, n, check); {
		case err != nil && (wrong == nil || len(values) == n || len(values) > 2 && checkEach(values, check) == nil):
			wrong = err // Where there are as many as wanted, or each is valid, that way was meant.
		case err != nil:
		case found == nil:
			found = values
		case len(found) != len(values):
			return nil, fmt.Errorf("%q may be %d values or %d: part values by a semicolon", text, len(values),
				len(found))
		}
	}
	if found == nil && n > 1 && strings.ContainsAny(text, ", ") && !strings.Contains(text, ", ") &&
		!strings.Contains(text, ";") {
		wrong = fmt.Errorf("%w; part the values by semicolons, as 1 7/8; 2", wrong)
	}
	if found == nil {
		return nil, wrong
	}
	for len(found) < n {
		found = append(found, found[0])
	}
	return found, nil
}

// checkComma says what is wrong with a text that has a comma: only one that stands for a decimal point is right.
func checkComma(text string) error {
	whole, part, has := strings.Cut(text, ",")
	isDigits := func(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }
	if has && !(isDigits(whole) && isDigits(part) && len(part) <= 2) {
		return fmt.Errorf("%q is no value: part values by a comma and a space, or by a semicolon", text)
	}
	return nil
}

// split splits at a mark, and takes the spaces away.
func split(text, mark string) []string {
	values := strings.Split(text, mark)
	for i := range values {
		values[i] = strings.TrimSpace(values[i])
	}
	return values
}

// checkValues says what is wrong with values for n carburettors.
func checkValues(values []string, n int, check func(string) error) error {
	if len(values) != n && len(values) != 1 {
		return fmt.Errorf("%d values for %d carburettors; one value is for all", len(values), n)
	}
	return checkEach(values, check)
}

// checkEach says what is wrong with the first value that is not right.
func checkEach(values []string, check func(string) error) error {
	for _, v := range values {
		if v == "" || check == nil {
			continue
		}
		if err := check(v); err != nil {
			return err
		}
	}
	return nil
}

// ParseTurnsOut reads the turns out of n pilot screws, as SplitValues parts them; NaN where a place is empty.
func ParseTurnsOut(text string, n int) ([]float64, error) {
	values, err := SplitValues(text, n, func(v string) error {
		_, err := ParseTurns(v)
		return err
	})
	if err != nil {
		return nil, err
	}
	out := make([]float64, n)
	for i, v := range values {
		if out[i], err = ParseTurns(v); v == "" {
			out[i], err = math.NaN(), nil
		}
	}
	return out, err
}

// SetAll reads a setting of all carburettors of a card, as SplitValues parts it.
func (s *BenchCard) SetAll(field, text string) error {
	var try Carburettor
	var check func(string) error
	if _, isText := try.at(field).(*string); !isText {
		check = func(v string) error { return try.Set(field, v) }
	}
	values, err := SplitValues(text, len(s.Carburettors), check)
	for i := range values {
		if err == nil {
			err = s.Carburettors[i].Set(field, values[i])
		}
	}
	return err
}
