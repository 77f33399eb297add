package engine

import "math"

// The cylinder. Chosen: a quarter of a 750 cm3 four.
const (
	cylinderBoreM    = 0.0655
	strokeM          = 0.0555
	rodM             = 0.100
	compressionRatio = 10.0

	sweptM3     = math.Pi / 4 * cylinderBoreM * cylinderBoreM * strokeM
	clearanceM3 = sweptM3 / (compressionRatio - 1)
)

// The intake valve. The timing is a published example (Sitthiracha's thesis, as
// quoted in the tests of an open engine example): opens 11 degrees before top
// dead centre, closes 53 after bottom dead centre. Its size is chosen.
const (
	cycleDegrees = 720.0

	// Crank angles of a cylinder are counted from its firing top dead centre.
	intakeTopDegrees = 360.0
	bottomDegrees    = 540.0
	valveOpenDegrees = intakeTopDegrees - 11
	valveShutDegrees = bottomDegrees + 53
	valveDiameterM   = 0.026
	valveLiftM       = 0.008
	valveCoefficient = 0.6 // of the curtain area, chosen
	// residualK is the temperature of the burnt gas that fills the clearance, at
	// ambient pressure, when the valve opens. Chosen.
	residualK = 900.0
)

// pistonTravel returns how far the piston is from its top in m, degrees of crank
// after a top dead centre: crank radius r, rod l,
//
//	x = r (1 - cos a) + l - sqrt(l^2 - r^2 sin^2 a)
func pistonTravel(degrees float64) float64 {
	const r = strokeM / 2
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	return r*(1-cos) + rodM - math.Sqrt(rodM*rodM-r*r*sin*sin)
}

// cylinderVolume returns the gas volume in m3 at a crank angle in degrees.
func cylinderVolume(degrees float64) float64 {
	return clearanceM3 + math.Pi/4*cylinderBoreM*cylinderBoreM*pistonTravel(degrees)
}

// valveArea returns the intake valve's effective area in m2: curtain area at a
// lift of squared-sine form, smooth at both ends.
func valveArea(degrees float64) float64 {
	x := (degrees - valveOpenDegrees) / (valveShutDegrees - valveOpenDegrees)
	if x <= 0 || x >= 1 {
		return 0
	}
	s := math.Sin(math.Pi * x)
	return valveCoefficient * math.Pi * valveDiameterM * valveLiftM * s * s
}

// crankCells is the number of table steps per degree of crank.
const crankCells = 4

// crankTable holds cylinderVolume and valveArea over one cycle.
var crankTable = func() (t [cycleDegrees*crankCells + 2]struct{ volume, valve float64 }) {
	for i := range t {
		a := float64(i) / crankCells
		t[i].volume, t[i].valve = cylinderVolume(a), valveArea(a)
	}
	return t
}()

// atCrank returns volume and valve area from crankTable, for 0 to 720 degrees.
func atCrank(degrees float64) (volume, valve float64) {
	x := degrees * crankCells
	i := int(x)
	f := x - float64(i)
	a, b := &crankTable[i], &crankTable[i+1]
	return a.volume + f*(b.volume-a.volume), a.valve + f*(b.valve-a.valve)
}

// charge is the gas in a cylinder while its intake valve is open: first law
// without heat to the walls, p = (gamma-1) U/V.
type charge struct {
	scale  float64 // volumes over the standard cylinder's
	mass   float64 // kg
	energy float64 // J
	fresh  float64 // net mass through the valve since it opened, kg
	volume float64 // m3, where the last step ended
}

// begin fills the clearance with burnt gas at a pressure in Pa absolute.
func (c *charge) begin(degrees, pressurePa float64) {
	v, _ := atCrank(degrees)
	c.volume = v * c.scale
	c.mass = pressurePa * c.volume / (gasConstant * residualK)
	c.energy = pressurePa * c.volume / (gamma - 1)
	c.fresh = 0
}
