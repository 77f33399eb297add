package view

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"

	"evendraw/internal/balance"
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

// text is a word in JSON: null where there is none.
type text string

// MarshalJSON writes the word, or null.
func (t text) MarshalJSON() ([]byte, error) {
	if t == "" {
		return []byte("null"), nil
	}
	return json.Marshal(string(t))
}

type cylinderJSON struct {
	Cylinder           int    `json:"cylinder"`
	Channel            int    `json:"channel"`
	Draw               number `json:"draw_kpa"`
	Difference         number `json:"difference_kpa"`
	Uncertainty        number `json:"uncertainty_kpa"`
	Opening            number `json:"opening_ratio"`
	OpeningUncertainty number `json:"opening_uncertainty"`
	Ripple             number `json:"ripple_kpa"`
	State              string `json:"state"`
}

type adviceJSON struct {
	Kind      string `json:"kind"`
	Screw     text   `json:"screw"`
	Direction text   `json:"direction"`
	Turns     number `json:"turns"`
	Cylinder  int    `json:"cylinder,omitempty"`
	Why       string `json:"why"`
}

type linkJSON struct {
	Frames  uint64 `json:"frames"`
	Lost    uint64 `json:"lost"`
	Damaged uint64 `json:"damaged"`
	// Beside what is counted on the way: what the board itself missed.
	Overflows  uint64 `json:"overflows"`
	Duplicates uint64 `json:"duplicates"`
	Restarts   uint64 `json:"restarts"`
}

type cycleJSON struct {
	Start  number   `json:"start_s"`
	Period number   `json:"period_s"`
	Mean   []number `json:"mean_absolute_kpa"`
}

type readingJSON struct {
	Time        number         `json:"time_s"`
	RPM         number         `json:"rpm"`
	Steady      bool           `json:"steady"`
	Reference   int            `json:"reference"`
	Spread      number         `json:"spread_kpa"`
	Cylinders   []cylinderJSON `json:"cylinders"`
	Advice      adviceJSON     `json:"advice"`
	Link        linkJSON       `json:"link"`
	Zeroed      bool           `json:"zeroed"`
	Ambient     number         `json:"ambient_kpa"`
	AmbientFrom string         `json:"ambient_from"`
	Cycle       *cycleJSON     `json:"cycle,omitempty"`
}

// JSON returns a reading as one line of JSON without its line end. withCycle
// adds the last cycle's own figures.
func JSON(r *balance.Reading, link session.Link, cfg *session.Config, withCycle bool) []byte {
	out := readingJSON{
		Time: number(r.Time), RPM: number(r.RPM), Steady: r.Steady, Reference: r.Reference, Spread: number(r.Spread),
		Cylinders: []cylinderJSON{},
		Advice: adviceJSON{Kind: string(r.Advice.Kind), Screw: text(r.Advice.ScrewName), Direction: text(r.Advice.Direction),
			Turns: number(r.Advice.Turns), Cylinder: r.Advice.Cylinder, Why: string(r.Advice.Why)},
		Link:   linkOf(link),
		Zeroed: cfg.Zeroed, Ambient: number(cfg.Ambient), AmbientFrom: string(cfg.AmbientFrom),
	}
	for _, c := range r.Cylinders {
		out.Cylinders = append(out.Cylinders, cylinderJSON{
			Cylinder: c.Cylinder, Channel: c.Channel, Draw: number(c.Draw), Difference: number(c.Difference),
			Uncertainty: number(c.Uncertainty), Opening: number(c.Opening), OpeningUncertainty: number(c.OpeningUncertainty), Ripple: number(c.Ripple), State: string(c.State),
		})
	}
	if withCycle && r.Span.Cycle {
		out.Cycle = &cycleJSON{Start: number(r.Span.Start), Period: number(r.Span.Period)}
		for _, m := range r.Span.Mean[:r.Span.N] {
			out.Cycle.Mean = append(out.Cycle.Mean, number(m))
		}
	}
	return mustJSON(out)
}

func linkOf(l session.Link) linkJSON {
	return linkJSON{l.Frames, l.Lost, l.Damaged, l.Overflows, l.Duplicates, l.Restarts}
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
	Cycles      int                   `json:"cycles"`
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

func hosesOf(o session.HoseOrder) hosesJSON {
	some := func(p [][2]int) [][2]int { return append([][2]int{}, p...) }
	return hosesJSON{string(o.Verdict), some(o.Exchanged), some(o.Alternatives), some(o.Unseen)}
}

// SummaryJSON returns the last line of an analysis, without its line end.
func SummaryJSON(s *session.Summary, c *session.Chain) []byte {
	link, cfg, b := c.Link(), c.Config(), c.Bank()
	out := summaryJSON{
		Duration: number(link.LastTime), Frames: link.Frames, Lost: link.Lost, Damaged: link.Damaged, Gaps: link.Gaps,
		Overflows: link.Overflows, Restarts: link.Restarts, Cycles: s.Cycles,
		RPM:    map[string]number{"median": number(s.RPM(0.5)), "p5": number(s.RPM(0.05)), "p95": number(s.RPM(0.95))},
		Spread: number(s.Spread()), Reference: s.Reference, Cylinders: []cylinderSummaryJSON{},
		Hoses:  hosesOf(s.Hoses(&b)),
		Zeroed: cfg.Zeroed, Ambient: number(cfg.Ambient), AmbientFrom: string(cfg.AmbientFrom),
	}
	for _, c := range s.Cylinders(&b) {
		cj := cylinderSummaryJSON{Cylinder: c.Cylinder, Channel: c.Channel, Draw: number(c.Draw), Uncertainty: number(c.Uncertainty),
			Difference: number(c.Difference), Ripple: number(c.Ripple), Dip: number(c.Dip), Opening: number(c.Opening), OpeningHalf: number(c.OpeningUncertainty), Misfires: c.Misfires, States: map[string]number{}}
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

// Line returns the view as one plain line, for a terminal that can't draw.
func (v *View) Line() string {
	p := v.Picture()
	var parts []string
	for _, t := range p.Head {
		parts = append(parts, t.Text)
	}
	if v.age() <= blankAfter {
		for _, l := range p.Lanes {
			s := l.Label + ": " + l.Draw
			if l.Shown && !l.Reference {
				s += " (" + l.Difference + ")"
			}
			if l.Fault != "" {
				s += " " + l.Fault
			}
			parts = append(parts, s)
		}
	}
	parts = append(parts, p.Big+": "+strings.Join(p.Say, " "))
	if r := v.reading(); r != nil {
		return fmt.Sprintf("%7.1f s | ", r.Time) + strings.Join(parts, " | ")
	}
	return strings.Join(parts, " | ")
}
