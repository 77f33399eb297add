package capture

const (
	// leastKPa and mostKPa bound the absolute pressure in an intake. Chosen: an engine that is braked by
	// shut butterflies draws down to 15 kPa or so, and what is blown into is no carburettor of ours.
	leastKPa, mostKPa = 5, 130
	// leastRows and mostRows bound the rows a second: what PROTOCOL.md allows a board.
	leastRows, mostRows = 50, 5000
	// rowSlack is by which share a logger's clock may be off: the 2 % of PROTOCOL.md.
	rowSlack = 0.02
)

// unit is one that a column may be in by mistake, and the figures that are right in it.
type unit struct {
	name      string
	low, high float64
}

// Derived from the bounds above: 1 kPa is 10 mbar, 0.01 bar, 1000 Pa.
var pressureUnits = []unit{{"pressure relative to the air", -mostKPa, 0}, {"bar", leastKPa * 0.01, mostKPa * 0.01},
	{"pressure relative to the air", 0, leastKPa}, {"mbar", mostKPa, mostKPa * 10},
	{"Pa", leastKPa * 1000, mostKPa * 1000}}

// Of the time between two rows.
var timeUnits = []unit{{"seconds", 1.0 / mostRows, 1.0 / leastRows}, {"milliseconds", 1e3 / mostRows, 1e3 / leastRows},
	{"nanoseconds", 1e9 / mostRows, 1e9 / leastRows}}

// looksLike says which unit a figure may be in, "" if none is known.
func looksLike(v float64, units []unit) string {
	for _, u := range units {
		if v >= u.low && v <= u.high {
			return "; it looks like " + u.name
		}
	}
	return ""
}

// checkInterval refuses a usual time between two rows, in µs, that no logger of pulses has.
func checkInterval(us float64) error {
	rate := 1e6 / us
	if rate >= leastRows*(1-rowSlack) && rate <= mostRows*(1+rowSlack) {
		return nil
	}
	return wrong(0, 0, "rows lie %.6g apart in %s, which is in microseconds: %.6g a second, and %d to %d can be read%s",
		us, timeColumn, rate, leastRows, mostRows, looksLike(us, timeUnits))
}
