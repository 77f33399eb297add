package view

import (
	"encoding/json"
	"math"

	"evendraw/internal/cycle"
	"evendraw/internal/session"
)

// number is a figure in JSON: null where it is not known.
type number float64

// MarshalJSON writes the number in full, or null.
func (n number) MarshalJSON() ([]byte, error) {
	if math.IsNaN(float64(n)) || math.IsInf(float64(n), 0) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(n))
}

type cylinderSummaryJSON struct {
	Cylinder    int               `json:"cylinder"`
	Channel     int               `json:"channel"`
	Draw        number            `json:"draw_kpa"`
	Uncertainty number            `json:"uncertainty_kpa"`
	Difference  number            `json:"difference_kpa"`
	Ripple      number            `json:"ripple_kpa"`
	Dip         number            `json:"dip_kpa"`
	Opening     number            `json:"opening_ratio"`
	OpeningHalf number            `json:"opening_uncertainty"`
	Lag         number            `json:"hose_lag_s"`   // of hose and sensor
	Damping     number            `json:"hose_damping"` // share of the swing that they take
	Misfires    int               `json:"misfires"`
	States      map[string]number `json:"states"`
}

type summaryJSON struct {
	Duration    number                `json:"duration_s"`
	Frames      uint64                `json:"frames"`
	Lost        uint64                `json:"lost"`
	Damaged     uint64                `json:"damaged"`
	Gaps        uint64                `json:"gaps"`
	Overflows   uint64                `json:"overflows"`
	Restarts    uint64                `json:"restarts"`
	Duplicates  uint64                `json:"duplicates"`
	Cycles      int                   `json:"cycles"`
	Torn        int                   `json:"cycles_torn"` // too much missing to count
	RPM         map[string]number     `json:"rpm"`
	Spread      number                `json:"spread_kpa"`
	Reference   int                   `json:"reference"`
	Cylinders   []cylinderSummaryJSON `json:"cylinders"`
	Hoses       hosesJSON             `json:"hoses"`
	Zeroed      bool                  `json:"zeroed"`
	Ambient     number                `json:"ambient_kpa"`
	AmbientFrom string                `json:"ambient_from"`
}

type hosesJSON struct {
	Verdict      string   `json:"verdict"`
	Exchanged    [][2]int `json:"exchanged"`
	Alternatives [][2]int `json:"alternatives"` // pairs that would look the same
	Unseen       [][2]int `json:"unseen"`       // exchanges that can't be seen
}

func hosesOf(o cycle.HoseOrder) hosesJSON {
	some := func(p [][2]int) [][2]int { return append([][2]int{}, p...) }
	return hosesJSON{string(o.Verdict), some(o.Exchanged), some(o.Alternatives), some(o.Unseen)}
}

// SummaryJSON returns the last line of an analysis, without its line end.
func SummaryJSON(s *session.Summary, c *session.Chain) []byte {
	link, cfg, b := c.Link(), c.Config(), c.Bank()
	out := summaryJSON{
		Duration: number(link.LastTime), Frames: link.Frames, Lost: link.Lost, Damaged: link.Damaged, Gaps: link.Gaps,
		Overflows: link.Overflows, Restarts: link.Restarts, Duplicates: link.Duplicates, Cycles: s.Cycles, Torn: s.Torn,
		RPM:    map[string]number{"median": number(s.RPM(0.5)), "p5": number(s.RPM(0.05)), "p95": number(s.RPM(0.95))},
		Spread: number(s.Spread()), Reference: s.Reference, Cylinders: []cylinderSummaryJSON{},
		Hoses:  hosesOf(s.Hoses(&b)),
		Zeroed: cfg.Zeroed, Ambient: number(cfg.Ambient), AmbientFrom: string(cfg.AmbientFrom),
	}
	for _, c := range s.Cylinders(&b) {
		cj := cylinderSummaryJSON{Cylinder: c.Cylinder, Channel: c.Channel,
			Draw: number(c.Draw), Uncertainty: number(c.Uncertainty), Difference: number(c.Difference),
			Ripple: number(c.Ripple), Dip: number(c.Dip),
			Opening: number(c.Opening), OpeningHalf: number(c.OpeningUncertainty),
			Lag: number(c.Lag), Damping: number(c.Damping), Misfires: c.Misfires, States: map[string]number{}}
		for state, share := range c.States {
			cj.States[string(state)] = number(share)
		}
		out.Cylinders = append(out.Cylinders, cj)
	}
	return mustJSON(map[string]any{"summary": out})
}

func mustJSON(v any) []byte {
	b, err := json.Marshal(v)
	if err != nil {
		panic("view: internal error: " + err.Error())
	}
	return b
}
