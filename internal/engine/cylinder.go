package engine

import "math"

// The cylinder. Chosen: a quarter of a 750 cm3 four.
const (
	cylinderBoreM    = 0.0655
	strokeM          = 0.0555
	rodM             = 0.100
	compressionRatio = 10.0

	pistonM2    = math.Pi / 4 * cylinderBoreM * cylinderBoreM
	sweptM3     = pistonM2 * strokeM
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
)

// What is left of the burnt gas, and heat to the walls.
const (
	// residualK is the temperature of the burnt gas that fills the clearance when the
	// valve opens, coldResidualK that of a charge which did not burn. Chosen.
	residualK     = 900.0
	coldResidualK = 450.0
	// residualRisePa is how far that gas is above ambient: the back pressure of exhaust
	// valve and pipe, by which it blows back into the runner. Chosen.
	residualRisePa = 5e3
	// wallCoefficient, W/(m2 K), and wallRiseK, K above the air for a warm engine, of
	// Newton's law for the gas in the cylinder. Chosen; the coefficients quoted for the
	// intake stroke at low speed are of this size (from memory, no source).
	wallCoefficient = 120.0
	wallRiseK       = 100.0
	// blowByK is the temperature of the gas in the crankcase. Chosen.
	blowByK = 350.0
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
	return clearanceM3 + pistonM2*pistonTravel(degrees)
}

// valveDischarge returns the discharge coefficient, of the curtain area, of an inlet
// poppet valve by its lift over its diameter: a published polynomial (Sitthiracha's
// thesis, equation 3-18, as quoted in an open engine example).
func valveDischarge(l float64) float64 {
	return 0.6913 + l*(-2.5999+l*(31.248+l*(-143.13+l*190.47)))
}

// valveArea returns the intake valve's effective area in m2: curtain area at a
// lift of squared-sine form, smooth at both ends, times its discharge coefficient.
func valveArea(degrees float64) float64 {
	x := (degrees - valveOpenDegrees) / (valveShutDegrees - valveOpenDegrees)
	if x <= 0 || x >= 1 {
		return 0
	}
	s := math.Sin(math.Pi * x)
	lift := valveLiftM * s * s
	return valveDischarge(lift/valveDiameterM) * math.Pi * valveDiameterM * lift
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

// charge is the gas in a cylinder while its intake valve is open: first law,
// p = (gamma-1) U/V.
type charge struct {
	scale  float64 // volumes over the standard cylinder's
	valve  float64 // valve area over the standard one's
	rings  float64 // effective area past the rings, m2
	wall   float64 // heat transfer coefficient, W/(m2 K)
	wallK  float64 // temperature of the walls
	mass   float64 // kg
	energy float64 // J
	fresh  float64 // net mass through the valve since it opened, kg
	volume float64 // m3, where the last step ended

	leftK    float64 // temperature of the burnt gas that the next stroke begins with
	leftRise float64 // its pressure above ambient, Pa
}

// begin fills the clearance with burnt gas.
func (c *charge) begin(degrees, ambientPa float64) {
	v, _ := atCrank(degrees)
	c.volume = v * c.scale
	p := ambientPa + c.leftRise
	c.mass = p * c.volume / (gasConstant * c.leftK)
	c.energy = p * c.volume / (gamma - 1)
	c.fresh = 0
}

// heatFlow returns what the walls give to gas of a pressure in Pa absolute, volume and
// mass, in W: Newton's law over crown, head and liner.
func (c *charge) heatFlow(p, volume, mass float64) float64 {
	if c.wall == 0 {
		return 0
	}
	return c.wall * (2*pistonM2 + 4/cylinderBoreM*volume) * (c.wallK - p*volume/(mass*gasConstant))
}

// blowBy returns the flow past the rings into the cylinder in kg/s, from a crankcase at
// ambient, and the enthalpy that it brings in W.
func (c *charge) blowBy(ambient, p, volume, mass float64) (flow, heat float64) {
	const cp = gamma / (gamma - 1) * gasConstant
	if c.rings == 0 {
		return 0, 0
	}
	rt := p * volume / mass
	flow = orifice(c.rings, ambient, blowByRoot, p, math.Sqrt(rt), valveSteepest)
	if flow < 0 {
		return flow, cp * rt / gasConstant * flow
	}
	return flow, cp * blowByK * flow
}

var blowByRoot = math.Sqrt(gasConstant * blowByK)

// airCharge returns the mass of air in kg by the speed-density relation
//
//	m = e p V/(R T)
//
// for volumetric efficiency e, absolute pressure in Pa, volume in m3, temperature in K.
func airCharge(efficiency, pa, m3, kelvin float64) float64 {
	return efficiency * pa * m3 / (gasConstant * kelvin)
}
