package head

import (
	"bytes"
	"errors"
	"math"
	"testing"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/capture"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// FuzzHead reads the head of a capture: it is refused with a line that can be
// printed, or gives settings that the stages can work with and that are the same when
// written and read again.
func FuzzHead(f *testing.F) {
	b := bank.Default(4)
	cfg := session.Config{Bank: &b, Reference: 1, Ambient: 99, AmbientFrom: session.FromZeroPass, Zeroed: true}
	cfg.Setup.Offsets = []pressure.KPa{0.1, -0.2, 0, 1}
	var text bytes.Buffer
	if err := capture.WriteHead(&text, Of(&cfg, nil, "0", "bike", time.Unix(0, 0))); err != nil {
		f.Fatal(err)
	}
	f.Add(text.Bytes())
	f.Add([]byte("# evendraw capture 1\n# ambient_kpa: 1e308\n# reference: 9\n# ambient_from: given\n#\n"))
	f.Add([]byte("# evendraw capture 1\n# ambient_kpa: 100\n# bank: {\"cylinders\":1000000000}\n#\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		in, err := capture.Open(bytes.NewReader(text))
		if err != nil || in.Head == nil {
			return
		}
		cfg, ok, err := Config(in.Head)
		if err != nil {
			var e *capture.Error
			if !errors.As(err, &e) {
				t.Fatalf("%T %v", err, err)
			}
			return
		}
		if !ok {
			return
		}
		if !(cfg.Ambient > 0) || math.IsInf(float64(cfg.Ambient), 0) || cfg.Reference < 0 || cfg.Bank != nil &&
			cfg.Bank.Check() != nil {
			t.Fatalf("%+v", cfg)
		}
		again, ok, err := Config(Of(&cfg, nil, "0", "", time.Unix(0, 0)))
		if err != nil || !ok || again.Ambient != cfg.Ambient || again.Reference != max(cfg.Reference, 1) ||
			again.Aim != cfg.Aim || len(again.Setup.Offsets) != len(cfg.Setup.Offsets) {
			t.Fatalf("%v: %+v, was %+v", err, again, cfg)
		}
	})
}
