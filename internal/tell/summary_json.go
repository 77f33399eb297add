package tell

import (
	"encoding/json"

	"evendraw/internal/hoses"
	"evendraw/internal/plain"
	"evendraw/internal/session"
)

type cylinderSummaryJSON struct {
	Cylinder    int                     `json:"cylinder"`
	Channel     int                     `json:"channel"`
	Draw        plain.Number            `json:"draw_kpa"`
	Uncertainty plain.Number            `json:"uncertainty_kpa"`
	Difference  plain.Number            `json:"difference_kpa"`
	Ripple      plain.Number            `json:"ripple_kpa"`
	Dip         plain.Number            `json:"dip_kpa"`
	Opening     plain.Number            `json:"opening_ratio"`
	OpeningHalf plain.Number            `json:"opening_uncertainty"`
	Lag         plain.Number            `json:"hose_lag_s"`   // of hose and sensor
	Damping     plain.Number            `json:"hose_damping"` // share of the swing that they take
	NoOpening   bool                    `json:"no_opening"`   // enough cycles, but a refill that shows none
	WhyNot      *string                 `json:"no_opening_why"`
	Hose        *string                 `json:"hose"` // plain, perhaps-jet, jet or odd
	Misfires    int                     `json:"misfires"`
	SoundCycles int                     `json:"sound_cycles"`      // that the figures are from
	Mean        plain.Number            `json:"mean_absolute_kpa"` // of the whole recording, cycles or not
	Doubt       *string                 `json:"doubt"`             // why the cylinder looked ill
	States      map[string]plain.Number `json:"states"`
}

type summaryJSON struct {
	Duration    plain.Number            `json:"duration_s"`
	Frames      uint64                  `json:"frames"`
	Lost        uint64                  `json:"lost"`
	Damaged     uint64                  `json:"damaged"`
	Gaps        uint64                  `json:"gaps"`
	Overflows   uint64                  `json:"overflows"`
	Restarts    uint64                  `json:"restarts"`
	Duplicates  uint64                  `json:"duplicates"`
	Cycles      int                     `json:"cycles"`
	Torn        int                     `json:"cycles_torn"` // too much missing to count
	RPM         map[string]plain.Number `json:"rpm"`
	Spread      plain.Number            `json:"spread_kpa"`
	LeftOut     []int                   `json:"spread_without"`
	Reference   int                     `json:"reference"`
	Cylinders   []cylinderSummaryJSON   `json:"cylinders"`
	Hoses       hosesJSON               `json:"hoses"`
	Zeroed      bool                    `json:"zeroed"`
	Ambient     plain.Number            `json:"ambient_kpa"`
	AmbientFrom string                  `json:"ambient_from"`
}

type hosesJSON struct {
	Verdict      string   `json:"verdict"`
	Exchanged    [][2]int `json:"exchanged"`
	Alternatives [][2]int `json:"alternatives"` // pairs that would look the same
	Unseen       [][2]int `json:"unseen"`       // exchanges that can't be seen
	OnePort      [][2]int `json:"one_port"`     // pairs that feel the same pulse
	// Angles is where the pulses plainly come, by cylinder - 1, where the card has them elsewhere; null else.
	Angles []float64 `json:"angles"`
}

func hosesOf(o hoses.Order) hosesJSON {
	some := func(p [][2]int) [][2]int { return append([][2]int{}, p...) }
	return hosesJSON{string(o.Verdict), some(o.Exchanged), some(o.Alternatives), some(o.Unseen), some(o.OnePort),
		o.Angles}
}

// SummaryJSON returns the last line of an analysis, without its line end.
func SummaryJSON(s *session.Summary, c *session.Chain) []byte {
	link, cfg, b := c.Link(), c.Config(), c.Bank()
	out := summaryJSON{
		Duration: plain.Number(link.LastTime), Frames: link.Frames, Lost: link.Lost, Damaged: link.Damaged,
		Gaps:      link.Gaps,
		Overflows: link.Overflows, Restarts: link.Restarts, Duplicates: link.Duplicates, Cycles: s.Cycles, Torn: s.Torn,
		RPM: map[string]plain.Number{"median": plain.Number(s.RPM(0.5)), "p5": plain.Number(s.RPM(0.05)),
			"p95": plain.Number(s.RPM(0.95))},
		Spread: plain.Number(s.Spread()), LeftOut: append([]int{}, s.LeftOut()...), Reference: s.Reference,
		Cylinders: []cylinderSummaryJSON{},
		Hoses:     hosesOf(s.Hoses(&b)),
		Zeroed:    cfg.Zeroed, Ambient: plain.Number(cfg.Ambient), AmbientFrom: string(cfg.AmbientFrom),
	}
	for _, c := range s.Cylinders(&b) {
		cj := cylinderSummaryJSON{Cylinder: c.Cylinder, Channel: c.Channel, Draw: plain.Number(c.Draw),
			Uncertainty: plain.Number(c.Uncertainty),
			Difference:  plain.Number(c.Difference), Ripple: plain.Number(c.Ripple), Dip: plain.Number(c.Dip),
			Opening: plain.Number(c.Opening), OpeningHalf: plain.Number(c.OpeningUncertainty), Lag: plain.Number(c.Lag),
			Damping: plain.Number(c.Damping), Misfires: c.Misfires, States: map[string]plain.Number{},
			NoOpening: c.NoOpening != "", SoundCycles: c.SoundCycles, Mean: plain.Number(c.Mean),
			Doubt: wordOf(c.Doubt), WhyNot: wordOf(c.NoOpening), Hose: wordOf(c.Hose)}
		for state, share := range c.States {
			cj.States[string(state)] = plain.Number(share)
		}
		out.Cylinders = append(out.Cylinders, cj)
	}
	return mustJSON(map[string]any{"summary": out})
}

// wordOf returns a word of ours, nil for none.
func wordOf[W ~string](w W) *string {
	if w == "" {
		return nil
	}
	s := string(w)
	return &s
}

func mustJSON(v any) []byte {
	b, err := json.Marshal(v)
	if err != nil {
		panic("tell: internal error: " + err.Error())
	}
	return b
}
