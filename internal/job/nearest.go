package job

import "strings"

// Nearest returns which of some words was probably meant, "" when none is near. Case counts for nothing.
func Nearest(word string, among []string) string {
	word = strings.ToLower(word)
	best, least := "", len(word)/lettersASlip+2
	for _, other := range among {
		if d := slips(word, strings.ToLower(other)); d < least {
			best, least = other, d
		}
	}
	for _, other := range among { // a name that was cut short
		if best == "" && len(word) >= lettersASlip && strings.HasPrefix(strings.ToLower(other), word) {
			best = other
		}
	}
	return best
}

// lettersASlip is how many letters may hold one slip of the finger more than one. Chosen.
const lettersASlip = 4

// slips is how many letters are to be put in, left out or exchanged to make b of a: Levenshtein's distance.
func slips(a, b string) int {
	from, to := []rune(a), []rune(b)
	row := make([]int, len(to)+1)
	for j := range row {
		row[j] = j
	}
	for i, r := range from {
		corner := row[0]
		row[0] = i + 1
		for j, s := range to {
			step := corner
			if r != s {
				step++
			}
			corner = row[j+1]
			row[j+1] = min(step, row[j]+1, corner+1)
		}
	}
	return row[len(to)]
}

// IsMeant is a question that names what was probably meant, "" when nothing is near.
func IsMeant(word string, among []string) string {
	if near := Nearest(word, among); near != "" {
		return "; is " + near + " meant?"
	}
	return ""
}
