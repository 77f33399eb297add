package sensor

// catalogue holds the known kinds, the default first. Figures are those of the makers'
// data sheets as public copies quote them, whose revisions and pages are not known; Memory
// names those from memory.
var catalogue = []Kind{
	{
		Name: "MPX4115A", About: "absolute, 15 to 115 kPa",
		Parts: "MPX4115AP MPX4115AS MPXA4115AC6U",
		Slope: 0.009, Intercept: -0.095, Least: 15, Most: 115, Error: 1.5, ResponseMS: 1,
		Source: "MPX4115A data sheet (text of two public copies)",
	},
	{
		Name: "MPXA6115A", About: "absolute, 15 to 115 kPa",
		Parts: "MPXA6115AC6U MPXA6115AC7U",
		Slope: 0.009, Intercept: -0.095, Least: 15, Most: 115, Error: 1.5,
		Source: "MPXA6115A data sheet: range and 1.5 %", Memory: "transfer function",
	},
	{
		Name: "MPX4250A", About: "absolute, 20 to 250 kPa",
		Parts: "MPX4250AP MPXA4250AC6U",
		Slope: 0.004, Intercept: -0.04, Least: 20, Most: 250, Error: 3.45,
		Source: "MPX4250A data sheet: function, 1.5 % of span", Memory: "the band in kPa",
	},
	{
		// 18.8 mV/kPa and 0.204 V at 5.1 V. The hose is on the port whose suction raises the
		// output, the other port open to the air.
		Name: "MPX4250D", About: "two ports, 0 to 250 kPa, hose on the vacuum port",
		Parts: "MPX4250DP",
		Slope: -0.0188 / 5.1, Intercept: 0.204 / 5.1, Gauge: true, Least: -250, Most: 0, Error: 3.45, ResponseMS: 1,
		Source: "MPX4250D data sheet: slope, offset, response", Memory: "error band, taken from the MPX4250A",
	},
	{
		Name: "MPX5700", About: "absolute, 0 to 700 kPa: coarse for this job",
		Parts: "MPX5700AP MPX5700AS",
		Slope: 0.0012858, Intercept: 0.04, Least: 0, Most: 700, Error: 17.5,
		Source: "MPX5700 data sheet, transfer function (quoted)", Memory: "range, error band of 2.5 % of span",
	},
	{
		// 450 mV/kPa from 0.2 V at 5 V.
		Name: "MPX5010", About: "two ports, 0 to 10 kPa: too little for an idling engine",
		Parts: "MPX5010DP MPXV5010DP",
		Slope: -0.09, Intercept: 0.04, Gauge: true, Least: -10, Most: 0, Error: 0.5, ResponseMS: 1,
		Source: "MPX5010 data sheet: 0.2 to 4.7 V, slope, response", Memory: "error band of 5 % of span",
	},
	{
		Name: "MPXV6115V", About: "vacuum below ambient, 0 to 115 kPa",
		Parts: "MPXV6115VC6U",
		Slope: 0.007652, Intercept: 0.92, Gauge: true, Least: -115, Most: 0, Error: 1.7,
		Source: "MPXV6115V data sheet, transfer function", Memory: "error band",
	},
	{
		// The straight line through the printed ends, 20.0 kPa at 0.79 V and
		// 101.32 kPa at 4.00 V of 5 V; the printed middle, 46.66 kPa at 1.84 V,
		// lies on it within 0.002 V.
		Name: "automotive-1bar", About: "absolute, generic three-wire, about 1 bar",
		Slope: (4.00 - 0.79) / 5 / (101.32 - 20.0), Intercept: 0.79/5 - 20.0*(4.00-0.79)/5/(101.32-20.0),
		Least: 15, Most: 110, Error: 2.5,
		Source: "car service tables, three points; range and error band chosen", Memory: "three points",
	},
}

// Catalogue returns the known kinds, without two-point kinds.
func Catalogue() []Kind { return append([]Kind(nil), catalogue...) }
