package engine

import (
	"fmt"
	"math"
	"testing"
)

// isentropicRatio is p/p0 at a Mach number for gamma 1.4.
func isentropicRatio(mach float64) float64 { return math.Pow(1+0.2*mach*mach, -3.5) }

// Isentropic table for gamma 1.4: published in NACA Report 1135, as quoted by
// textbook appendices and an open aerodynamics library's tests (the report itself
// was not opened). A/A* is the choked flow's nozzle function over the nozzle
// function at that p/p0.
func TestNozzleAgainstIsentropicTable(t *testing.T) {
	for _, row := range []struct{ mach, ratio, area float64 }{ // 0: not quoted
		{0.02, 0, 28.942}, {0.05, 0.9983, 11.5914}, {0.10, 0.9930, 5.8218}, {0.15, 0.9844, 3.9103},
		{0.20, 0, 2.9635}, {0.25, 0, 2.4027}, {0.30, 0, 2.0350}, {0.35, 0, 1.7780},
		{0.38, 0, 1.6587}, {0.50, 0.8430, 1.3398}, {0.60, 0.7840, 1.1882}, {0.64, 0.7591, 1.1452},
		{0.79, 0, 1.0425}, {0.80, 0, 1.0382}, {0.82, 0.6430, 1.0305},
		{0.90, 0.5913, 1.0089}, {0.95, 0.5595, 1.0021}, {1.00, 0.5283, 1.0000},
	} {
		t.Run(fmt.Sprint("M ", row.mach), func(t *testing.T) {
			area := func(r float64) float64 { return nozzleExact(criticalRatio) / nozzleExact(r) }
			if got := area(isentropicRatio(row.mach)); math.Abs(got/row.area-1) > 6e-5 {
				t.Errorf("M %v: A/A* %.5f, published %v", row.mach, got, row.area)
			}
			if row.ratio == 0 {
				return
			}
			// Both published: the flow at that p/p0, which is rounded to four places.
			least, most := area(row.ratio-5.1e-5), area(row.ratio+5.1e-5)
			if row.area < least*(1-6e-5) || row.area > most*(1+6e-5) {
				t.Errorf("p/p0 %v: A/A* %.5f to %.5f, published %v", row.ratio, least, most, row.area)
			}
		})
	}
}

// Critical ratio: published 0.5283 (NACA 1135, as above). Mass-flow parameter at
// M 1: 0.684731, derived; the printed 0.6847 is from memory, as is 0.0404 for air in
// SI units (0.040415 derived, R 287.05). By Mach number: derived.
func TestMassFlowParameter(t *testing.T) {
	if math.Abs(criticalRatio-0.5283) > 5e-5 || math.Abs(criticalRatio-math.Pow(2/2.4, 3.5)) > 1e-15 {
		t.Errorf("critical ratio %v", criticalRatio)
	}
	for mach, want := range map[float64]float64{0.10: 0.11761, 0.25: 0.28498, 0.50: 0.51105, 0.80: 0.65952,
		1: 0.684731} {
		t.Run(fmt.Sprint("M ", mach), func(t *testing.T) {
			if got := nozzleExact(isentropicRatio(mach)); math.Abs(got-want) > 6e-6 {
				t.Errorf("M %v: mass-flow parameter %.6f, want %v", mach, got, want)
			}
		})
	}
	if math.Abs(chokedPsi-nozzleExact(criticalRatio)) > 1e-14 {
		t.Errorf("choked constant %v, function %v", chokedPsi, nozzleExact(criticalRatio))
	}
	const warm = 350.0
	flow := orifice(1, 1e5, math.Sqrt(gasConstant*warm), 2e4, 1, plateSteepest)
	if got := flow * math.Sqrt(warm) / 1e5; math.Abs(got-0.040415) > 5e-7 {
		t.Errorf("choked flow of air: parameter %.6f, want 0.040415", got)
	}
}

func TestNozzleTableIsTheFunction(t *testing.T) {
	for r := 0.3; r < 0.998; r += 0.000317 {
		if got, want := nozzle(r, plateSteepest), nozzleExact(r); math.Abs(got-want) > 1e-6 {
			t.Fatalf("r %.6f: table %.9f, function %.9f", r, got, want)
		}
	}
	// Regularised: zero at equal pressures, never above the function, no step.
	before := nozzle(1, plateSteepest)
	if before != 0 {
		t.Errorf("flow at equal pressures: %v", before)
	}
	for r := 1.0; r > 0.99; r -= 1e-5 {
		got := nozzle(r, plateSteepest)
		if got > nozzleExact(r)+1e-6 || got-before > 1.01e-5*plateSteepest || got < before {
			t.Fatalf("r %.5f: %v after %v, function %v", r, got, before, nozzleExact(r))
		}
		before = got
	}
}

func TestOrificeGoesBothWays(t *testing.T) {
	there := orifice(1e-5, 101e3, math.Sqrt(gasConstant*outsideK), 60e3, math.Sqrt(gasConstant*outsideK), plateSteepest)
	back := orifice(1e-5, 60e3, math.Sqrt(gasConstant*outsideK), 101e3, math.Sqrt(gasConstant*outsideK), plateSteepest)
	if !(there > 0) || there != -back {
		t.Errorf("there %v, back %v", there, back)
	}
}

// Open area of a throttle plate: the closed form is attributed to Harrington and
// Bolt, SAE 700082 (1970), and Guzzella and Onder. The numbers are derived (D): closed
// form and a numerical integral of the projected gap agree; no printed table of them
// was found.
func TestPlateOpenArea(t *testing.T) {
	for _, c := range []struct {
		closed, shaft float64
		open          map[float64]float64
	}{
		{8, 0.12, map[float64]float64{9: 0.00260315, 13: 0.01604213, 20: 0.05103176, 30: 0.12535034, 45: 0.28558931,
			60: 0.49400290, 80: 0.81206549, 90: 0.84757874}},
		{5, 0.20, map[float64]float64{6: 0.00167341, 10: 0.01139047, 20: 0.05650487, 30: 0.13010998, 45: 0.28848935,
			60: 0.49288866, 80: 0.74706008, 85: 0.74706008}},
		{10, 0, map[float64]float64{11: 0.00322963, 15: 0.01917321, 20: 0.04581111, 30: 0.12061476, 45: 0.28198496,
			60: 0.49228669, 80: 0.82367302, 90: 1}},
		{10, 0.15, map[float64]float64{15: 0.01914474, 30: 0.12040317, 60: 0.49018936, 80: 0.79779826, 90: 0.80973270}},
	} {
		t.Run(fmt.Sprintf("closed %v, shaft %v", c.closed, c.shaft), func(t *testing.T) {
			for angle, want := range c.open {
				if got := openFraction(angle, c.closed, c.shaft); math.Abs(got-want) > 6e-9 {
					t.Errorf("closed %v, shaft %v, angle %v: %.8f, want %.8f", c.closed, c.shaft, angle, got, want)
				}
			}
		})
	}
	if openFraction(8, 8, 0.12) != 0 || openFraction(-20, 8, 0.12) != 0 {
		t.Error("a closed plate is open")
	}
}

// The projected gap integrated strip by strip, an independent route: in a strip at
// y across the bore, what the tilted ellipse or the shaft covers is not open.
func TestPlateOpenAreaByQuadrature(t *testing.T) {
	const strips = 200000
	for _, angle := range []float64{9, 11.4, 25, 70} {
		t.Run(fmt.Sprint(angle, " degrees"), func(t *testing.T) {
			k := math.Cos(angle*math.Pi/180) / math.Cos(closedDegrees*math.Pi/180)
			sum := 0.0
			for i := range strips { // y along the shaft, bore radius 1
				y := (float64(i) + 0.5) / strips
				chord := math.Sqrt(1 - y*y)
				sum += chord - min(max(k*chord, shaftRatio), chord)
			}
			want := sum / strips * 4 / math.Pi
			if got := openFraction(angle, closedDegrees, shaftRatio); math.Abs(got-want) > 1e-6 {
				t.Errorf("angle %v: %.8f, quadrature %.8f", angle, got, want)
			}
		})
	}
}

func TestPlateAngleUndoesPlateArea(t *testing.T) {
	for _, angle := range []float64{8.5, 10, 12, 30} {
		if got := plateAngle(plateArea(angle)); math.Abs(got-angle) > 1e-9 {
			t.Errorf("angle %v there and back: %v", angle, got)
		}
	}
}

// At the valve the straight bound is taken without a look at the function: to the last bit what nozzle gives.
func TestTheValvesBoundIsTheNozzles(t *testing.T) {
	for i := range 200001 {
		if r := 0.5 + float64(i)/400000; valveNozzle(r) != nozzle(r, valveSteepest) {
			t.Fatalf("r %v: %v, want %v", r, valveNozzle(r), nozzle(r, valveSteepest))
		}
	}
}
