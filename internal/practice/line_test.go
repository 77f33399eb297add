package practice

import (
	"strings"
	"testing"

	"evendraw/internal/engine"
)

// A typed line that names a cylinder which is not there says so, and one that means nothing says what can be typed.
func TestTypedLines(t *testing.T) {
	t.Parallel()
	o := Options{Name: Leaking}
	cfg := o.EngineConfig()
	p := &Bike{Engine: engine.New(cfg), Bank: cfg.Bank, pilots: make([]float64, cfg.Bank.Cylinders)}
	for line, want := range map[string]string{"wet 2": "", "2 out 1/8": "", "wet 9": "no cylinder 9",
		"wet 0": "no cylinder 0", "9 out 1/8": "no cylinder 9", "foo": Hands, "wet": Hands, "2 up 1/8": Hands} {
		t.Run(line, func(t *testing.T) {
			err := p.DoLine(line)
			if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
				t.Errorf("%v, want %q", err, want)
			}
		})
	}
}
