package tell

import (
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/garage"
)

// Every question fits a terminal of 80 columns.
func TestQuestionsFit(t *testing.T) {
	t.Parallel()
	for n := bank.MinCylinders; n <= bank.MaxCylinders; n++ {
		b := bank.Default(n)
		for i, c := range garage.PreStartChecks(&b) {
			for _, line := range CheckQuestion(c, i+1, 23) {
				if len([]rune(line)) > 79 {
					t.Errorf("%s is too wide: %q", c.ID, line)
				}
			}
		}
	}
}
