package tell

import (
	"fmt"
	"maps"
	"slices"

	"evendraw/internal/hoses"
	"evendraw/internal/session"
)

// SummaryJSON returns the last line of an analysis, without its line end.
func SummaryJSON(s *session.Summary, c *session.Chain) []byte {
	link, cfg, b := c.Link(), c.Config(), c.Bank()
	o := &object{[]byte(`{"summary":{`)}
	o.figure("duration_s", link.LastTime)
	o.count("frames", link.Frames)
	o.count("lost", link.Lost)
	o.count("damaged", link.Damaged)
	o.count("gaps", link.Gaps)
	o.count("overflows", link.Overflows)
	o.count("restarts", link.Restarts)
	o.count("duplicates", link.Duplicates)
	o.count("cycles", uint64(s.Cycles))
	o.count("cycles_torn", uint64(s.Torn))
	o.open("rpm", '{')
	o.figure("median", s.RPM(0.5))
	o.figure("p5", s.RPM(0.05))
	o.figure("p95", s.RPM(0.95))
	o.close('}')
	o.figure("spread_kpa", float64(s.Spread()))
	figures(o, "spread_without", s.LeftOut())
	o.count("reference", uint64(s.Reference))
	o.open("cylinders", '[')
	for _, cylinder := range s.Cylinders(&b) {
		o.cylinderSummary(&cylinder)
	}
	o.close(']')
	o.hoses(s.Hoses(&b))
	o.yes("zeroed", cfg.Zeroed)
	o.figure("ambient_kpa", float64(cfg.Ambient))
	o.token("ambient_from", string(cfg.AmbientFrom))
	o.close('}')
	o.close('}')
	return o.b
}

func (o *object) cylinderSummary(c *session.CylinderSummary) {
	o.item()
	o.count("cylinder", uint64(c.Cylinder))
	o.count("channel", uint64(c.Channel))
	o.figure("draw_kpa", float64(c.Draw))
	o.figure("uncertainty_kpa", float64(c.Uncertainty))
	o.figure("difference_kpa", float64(c.Difference))
	o.figure("ripple_kpa", float64(c.Ripple))
	o.figure("dip_kpa", float64(c.Dip))
	o.figure("opening_ratio", c.Opening)
	o.figure("opening_uncertainty", c.OpeningUncertainty)
	o.figure("hose_lag_s", c.Lag)
	o.figure("hose_damping", c.Damping)
	o.yes("no_opening", c.NoOpening != "")
	o.word("no_opening_why", string(c.NoOpening))
	o.word("hose", string(c.Hose))
	o.count("misfires", uint64(c.Misfires))
	o.count("sound_cycles", uint64(c.SoundCycles))
	o.figure("mean_absolute_kpa", float64(c.Mean))
	o.word("doubt", string(c.Doubt))
	o.open("states", '{')
	for _, state := range slices.Sorted(maps.Keys(c.States)) {
		o.figure(string(state), c.States[state])
	}
	o.close('}')
	o.close('}')
}

func (o *object) hoses(h hoses.Order) {
	o.open("hoses", '{')
	o.token("verdict", string(h.Verdict))
	for _, list := range []struct {
		name  string
		pairs [][2]int
	}{{"exchanged", h.Exchanged}, {"alternatives", h.Alternatives}, {"unseen", h.Unseen}, {"one_port", h.OnePort}} {
		o.open(list.name, '[')
		for _, p := range list.pairs {
			o.comma()
			o.b = fmt.Appendf(o.b, "[%d,%d]", p[0], p[1])
		}
		o.close(']')
	}
	if h.Angles == nil {
		o.null("angles")
	} else {
		figures(o, "angles", h.Angles)
	}
	o.close('}')
}
