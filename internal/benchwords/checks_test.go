package benchwords

import (
	"strings"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/garage"
)

// Every check of every layout has words, and none of them a hole.
func TestEveryCheckHasWords(t *testing.T) {
	t.Parallel()
	for n := bank.MinCylinders; n <= bank.MaxCylinders; n++ {
		b := bank.Default(n)
		for _, c := range garage.PreStartChecks(&b) {
			short, text := CheckWords(c)
			if short == c.ID || text == "" || strings.ContainsAny(short+text, "{}") || len([]rune(short)) > 50 ||
				PartWords(c.Part) == c.Part {
				t.Errorf("%s: %q, %q in %q", c.ID, short, text, PartWords(c.Part))
			}
		}
	}
	if short, _ := CheckWords(garage.Check{ID: "later\x1b"}); short != "later." {
		t.Errorf("an unknown check is %q", short)
	}
}
