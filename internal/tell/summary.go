package tell

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"strings"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/frame"
	"evendraw/internal/hoses"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/suspects"
)

// AmbientNote says where the air pressure comes from.
func AmbientNote(cfg *session.Config) string {
	switch cfg.AmbientFrom {
	case session.FromZeroPass:
		return fmt.Sprintf("air pressure %.1f kPa, from the zero pass", float64(cfg.Ambient))
	case session.FromUser:
		return fmt.Sprintf("air pressure %.1f kPa, as given", float64(cfg.Ambient))
	}
	return fmt.Sprintf("air pressure %.1f kPa, only assumed (standard atmosphere): the vacuums are as far off as the "+
		"weather is", float64(cfg.Ambient))
}

// stateOrder is the order in which channel states are listed.
var stateOrder = []cycle.State{cycle.OK, cycle.NoPulse, cycle.Ambient, cycle.WeakPulse, cycle.ShowsLess,
	cycle.CutOff, cycle.Pinched, cycle.Restricted, cycle.RailLow, cycle.RailHigh, cycle.Stale}

// Summary says in words and a table what a file holds, its vacuums in u. The air pressure is told in kPa, as a
// barometer tells it.
func Summary(out io.Writer, sum *session.Summary, c *session.Chain, u pressure.Unit) {
	link, cfg, b := c.Link(), c.Config(), c.Bank()
	fmt.Fprintf(out, "%.1f s, %d frames, %d lost in %d gaps, %d damaged, %d twice, %d missed by the board\n",
		link.LastTime, link.Frames, link.Lost, link.Gaps, link.Damaged, link.Duplicates, link.Overflows)
	fmt.Fprintln(out, AmbientNote(&cfg))
	if !cfg.Zeroed {
		fmt.Fprintln(out, NoZero)
	}
	if a := c.Board(); a != nil && a.Printed != frame.NotPrinted {
		fmt.Fprintln(out, printedText(a.Printed))
	}
	if sum.Cycles == 0 {
		fmt.Fprintln(out, noCycles(sum.Cylinders(&b), link.LastTime))
	} else {
		fmt.Fprintf(out, "%d cycles, %.0f rpm (5 to 95 %%: %.0f to %.0f), spread %s %s%s\n", sum.Cycles, sum.RPM(0.5),
			sum.RPM(0.05), sum.RPM(0.95), u.Format(sum.Spread()), u.Name, plain.LeftOut(sum.LeftOut()))
	}
	if text := rateText(c); text != "" {
		fmt.Fprintln(out, text)
	}
	if sum.Torn > 0 {
		fmt.Fprintf(out, "%d cycles do not count: too much missing, or a change all at once\n", sum.Torn)
	}
	printMeans(out, sum.Cylinders(&b), u)
	if sum.Cycles == sum.Torn {
		return
	}
	printHoses(out, sum.Hoses(&b))
	fmt.Fprintf(out, "%-9s %-8s %10s %22s %16s %11s %9s %9s  %s\n", "cylinder", "channel", "vacuum/"+u.Name,
		"difference/"+u.Name, "opening", "ripple/"+u.Name, "dip/"+u.Name, "misfires", "states")
	for _, cyl := range sum.Cylinders(&b) {
		diff := "reference"
		if cyl.Cylinder != sum.Reference {
			diff = u.FormatFine(cyl.Difference) + " ±" + u.FormatFine(cyl.Uncertainty)
		}
		var states []string
		for _, s := range stateOrder {
			if share := cyl.States[s]; share > 0 {
				states = append(states, fmt.Sprintf("%s %.0f%%", cmp.Or(suspects.States[s], string(s)), 100*share))
			}
		}
		opening := plain.Dash
		switch {
		case cyl.Cylinder == sum.Reference && cyl.Opening > 0:
			opening = "reference"
		case !math.IsNaN(cyl.Opening):
			opening = fmt.Sprintf("%.3f ±%.3f", cyl.Opening, cyl.OpeningUncertainty)
		}
		fmt.Fprintf(out, "%-9d %-8d %10s %22s %16s %11s %9s %9d  %s\n", cyl.Cylinder, cyl.Channel,
			u.FormatFine(cyl.Draw), diff, opening, u.FormatFine(cyl.Ripple), u.FormatFine(cyl.Dip),
			cyl.Misfires, strings.Join(states, ", "))
	}
	fmt.Fprintln(out, "± is where the mean of ever so many such cycles, misfires and all, lies in 95 of 100 "+
		"recordings, hoses taken to be free; openings are areas over the runners' volumes, the reference's being 1;\n"+
		"ripple is the swing of a cycle from peak to peak, dip the deepest vacuum in it, misfires the charges "+
		"that did not burn, states the share of cycles")
	printLags(out, sum.Cylinders(&b))
	printSound(out, sum, sum.Cylinders(&b))
}

// shortRecording is how long a recording must be, s, for cycles of the slowest engine to be told of it: three. Derived.
const shortRecording = 3 * 120 / cycle.DefaultMinRPM

// noCycles says why a recording of so many seconds has no cycle.
func noCycles(cylinders []session.CylinderSummary, seconds float64) string {
	pulses, seen := false, false
	for i := range cylinders {
		still := cylinders[i].States[cycle.NoPulse] + cylinders[i].States[cycle.Ambient]
		for _, share := range cylinders[i].States {
			seen = seen || share > 0
		}
		pulses = pulses || seen && still < 1
	}
	switch {
	case seconds < shortRecording && (pulses || !seen):
		return fmt.Sprintf("no cycle is told of %.1f s: it takes three whole ones, and some ten seconds for exact "+
			"figures", seconds)
	case pulses:
		return "no steady cycle in it, though something pulses: the engine did not run on"
	}
	return "no steady cycle in it: the engine stood, or nothing pulses"
}

// stateSentences say what a channel's state, or a doubt, means where it is not plain.
var stateSentences = map[string]string{
	string(cycle.CutOff): "its dips are cut off by the end of the sensor's range: its mean and differences " +
		"are wrong, and not told",
	string(cycle.Pinched): "its pulse shrank at once while the others' stayed: hose pinched?",
	string(cycle.Restricted): "passes pressure on like a restrictor or a split hose, which the others don't: " +
		"its mean " +
		"is wrong by up to some kPa, and no difference is told; dirt, a kink or a hole in its hose, or a sensor " +
		"of another kind?",
	string(cycle.ShowsLess): "shows less than the others, all by one share: hose split, sensor of another kind, " +
		"valve or rings? Take a zero and a match",
	string(advice.WhyDisagree):    "its vacuum does not fit its pulse",
	string(advice.WhyMisfires):    "misfires often",
	string(advice.WhyOneMisfires): "misfires often, or one that fires near it",
	string(advice.WhyLean):        "misfires since its butterfly was shut",
}

// noOpenings say why there is no opening.
var noOpenings = map[cycle.NoOpening]string{
	cycle.FewRefills: "it takes some ten seconds of steady cycles",
	cycle.ShallowDip: "its dip is too shallow, or its refill too short: a tight hose, or no zero?",
	cycle.FewSamples: "too few samples lie in a cycle",
	cycle.BehindJet:  "its hose passes pressure on like a restrictor",
	cycle.OddRefill: "its pressure does not rise as behind a butterfly and a hose of up to 80 ms: a strongly " +
		"restricted or split hose, joined runners?",
}

// hoseSentences say what a hose that is not plain does to its cylinder's figures.
var hoseSentences = map[cycle.HoseKind]string{
	cycle.JetHose: "its hose is like a restrictor, as the others' are: differences may be a fifth too small",
	cycle.PerhapsJet: "its hose may hold a restrictor: if all do, differences may be a fifth too small; if it alone " +
		"does, its own is wrong by up to 2 kPa",
	cycle.OddHose: "its pressure rises neither as behind a plain hose nor as behind a restrictor: hose kinked or " +
		"split, or does its air swing? Its difference may be wrong",
}

// printSound says of each cylinder what looked ill, and from how many cycles its figures are if not from all.
func printSound(out io.Writer, sum *session.Summary, cylinders []session.CylinderSummary) {
	for _, c := range cylinders {
		for _, s := range stateOrder {
			if text := stateSentences[string(s)]; text != "" && c.States[s] > 0 {
				fmt.Fprintf(out, "cylinder %d, channel %d: %s\n", c.Cylinder, c.Channel, text)
			}
		}
		if text := stateSentences[string(c.Doubt)]; text != "" {
			fmt.Fprintf(out, "cylinder %d, channel %d: %s\n", c.Cylinder, c.Channel, text)
		}
		if text := noOpenings[c.NoOpening]; text != "" {
			fmt.Fprintf(out, "cylinder %d: no opening, as %s\n", c.Cylinder, text)
		}
		if text := hoseSentences[c.Hose]; text != "" && c.States[cycle.Restricted] == 0 {
			fmt.Fprintf(out, "cylinder %d: %s\n", c.Cylinder, text)
		}
		if c.SoundCycles < sum.Cycles-sum.Torn {
			fmt.Fprintf(out, "cylinder %d: figures from %d of %d cycles, those in which its channel was sound\n",
				c.Cylinder, c.SoundCycles, sum.Cycles)
		}
	}
}

// fastRate is how many samples a second hold the pulses of any idle, also of a port that four cylinders share:
// cycle.MinCycleSamples a pulse at 1200 rpm. Derived.
const fastRate = cycle.MinCycleSamples * 4 * 1200 / 120

// rateText says what a slow logger's rate can hold, "" of a fast one.
func rateText(c *session.Chain) string {
	a := c.Board()
	if a == nil || a.Rate >= fastRate {
		return ""
	}
	return fmt.Sprintf("%d samples a second hold %.0f pulses a second: faster ones, of a quicker engine or of a port "+
		"that cylinders share, look like slower ones, and the speed told is then false", a.Rate,
		float64(a.Rate)/cycle.MinCycleSamples)
}

// printMeans says each channel's mean pressure over the whole file.
func printMeans(out io.Writer, cylinders []session.CylinderSummary, u pressure.Unit) {
	var means []string
	for _, c := range cylinders {
		means = append(means, u.FormatFine(c.Mean))
	}
	if means != nil {
		fmt.Fprintf(out, "mean absolute pressure of the whole recording: %s %s\n", strings.Join(means, ", "), u.Name)
	}
}

// printLags says what hoses and sensors do to ripple and dip, where it is known.
func printLags(out io.Writer, cylinders []session.CylinderSummary) {
	var lags, damping []string
	known := false
	for _, c := range cylinders {
		lag, share := plain.Dash, plain.Dash
		if c.Lag > 0 {
			lag, share, known = fmt.Sprintf("%.1f", 1e3*c.Lag), fmt.Sprintf("%.0f", 100*c.Damping), true
		}
		lags, damping = append(lags, lag), append(damping, share)
	}
	if known {
		fmt.Fprintf(out, "hose and sensor lag %s ms and take %s %% off ripple and dip\n", strings.Join(lags, ", "),
			strings.Join(damping, ", "))
	}
}

// hoseOrders say what the order of the pulses tells of the hoses.
var hoseOrders = map[hoses.Verdict]string{hoses.AsExpected: "the pulses come in the order expected",
	hoses.Exchanged: "exchanged", hoses.CannotTell: "the order of the pulses tells nothing of them"}

// printHoses says what the order of the pulses tells of the hoses.
func printHoses(out io.Writer, o hoses.Order) {
	fmt.Fprint(out, "hoses: "+hoseOrders[o.Verdict])
	if len(o.Exchanged) > 0 {
		fmt.Fprintf(out, ", those of cylinders %s", plain.Pairs(o.Exchanged, ", "))
		if len(o.Alternatives) > 0 {
			fmt.Fprintf(out, ", or of %s, which would look the same", plain.Pairs(o.Alternatives, ", "))
		}
	}
	for _, p := range o.OnePort {
		fmt.Fprintf(out, "; those of cylinders %d and %d feel the same pulse: two hoses are on one port", p[0], p[1])
	}
	if len(o.Unseen) > 0 {
		fmt.Fprintf(out, "; a swap of %s would not show", plain.Pairs(o.Unseen, ", "))
	}
	if o.Angles != nil {
		fmt.Fprintf(out, "; the pulses come elsewhere than the card says, about %s degrees of crank: correct its "+
			"firing order and angles", o.AnglesText())
	}
	fmt.Fprintln(out)
}

// printedText says what a board that can only print can't guarantee.
func printedText(kind frame.Printed) string {
	if kind == frame.WithClock {
		return "This board prints lines with a clock: a damaged line may pass for a good one, and the channels' " +
			"delays are unknown."
	}
	return "This board prints lines without a clock: lost lines don't show, a damaged line may pass for a good " +
		"one, and the speed is only as right as the rate."
}
