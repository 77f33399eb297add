package plain

import "strings"

// Nearest returns which of some words was probably meant, "" when none is near. Case counts for nothing.
func Nearest(word string, among []string) string {
	word = strings.ToLower(word)
	best, least := "", (len(word)-1)/lettersASlip+2
	for _, other := range among {
		if d := slips(word, strings.ToLower(other)); d < min(least, len(word)) {
			best, least = other, d
		}
	}
	for _, other := range among { // a part of a name, or a name and more
		lower := strings.ToLower(other)
		if best == "" && (len(word) >= lettersASlip && strings.Contains(lower, word) ||
			len(other) >= lettersASlip && strings.Contains(word, lower)) {
			best = other
		}
	}
	return best
}

// lettersASlip is how many letters may hold one slip of the finger more than one. Chosen.
const lettersASlip = 4

// slips is how many letters are to be put in, left out, changed or exchanged with their neighbour to make b of a:
// Damerau's distance, no letter moved twice.
func slips(a, b string) int {
	from, to := []rune(a), []rune(b)
	before, row := make([]int, len(to)+1), make([]int, len(to)+1)
	for j := range row {
		row[j] = j
	}
	for i, r := range from {
		next := make([]int, len(to)+1)
		next[0] = i + 1
		for j, s := range to {
			change := row[j]
			if r != s {
				change++
			}
			next[j+1] = min(change, next[j]+1, row[j+1]+1)
			if i > 0 && j > 0 && r == to[j-1] && from[i-1] == s {
				next[j+1] = min(next[j+1], before[j-1]+1)
			}
		}
		before, row = row, next
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
