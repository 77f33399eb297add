package engine

import (
	"math"
	"testing"
)

// Slider-crank, derived (D): the law of cosines in the triangle of crank, rod and
// the line from crank centre to pin; half way the piston is past half its travel.
func TestSliderCrank(t *testing.T) {
	const r = strokeM / 2
	for a := 0.0; a < 720; a += 7 {
		s := r + rodM - pistonTravel(a)
		rod := r*r + s*s - 2*r*s*math.Cos(a*math.Pi/180)
		if math.Abs(math.Sqrt(rod)-rodM) > 1e-12 {
			t.Fatalf("at %v degrees the rod is %v m long", a, math.Sqrt(rod))
		}
	}
	if got := pistonTravel(180); math.Abs(got-strokeM) > 1e-15 {
		t.Errorf("stroke %v", got)
	}
	want := r + rodM - math.Sqrt(rodM*rodM-r*r)
	if got := pistonTravel(90); math.Abs(got-want) > 1e-15 || got < strokeM/2 {
		t.Errorf("at 90 degrees %v, want %v", got, want)
	}
	ratio := cylinderVolume(180) / cylinderVolume(0)
	if math.Abs(ratio-compressionRatio) > 1e-9 {
		t.Errorf("compression ratio %v", ratio)
	}
}

// Intake duration: published 11 degrees before top to 53 after bottom dead centre,
// 244 degrees (Sitthiracha's thesis, as quoted by an open engine example).
func TestValveTiming(t *testing.T) {
	if d := valveShutDegrees - valveOpenDegrees; d != 244 {
		t.Errorf("valve open for %v degrees", d)
	}
	peak := 0.0
	for a := 0.0; a < cycleDegrees; a += 0.25 {
		area := valveArea(a)
		peak = max(peak, area)
		if open := a > valveOpenDegrees && a < valveShutDegrees; open != (area > 0) {
			t.Fatalf("at %v degrees the area is %v", a, area)
		}
	}
	if port := math.Pi / 4 * valveDiameterM * valveDiameterM; peak > port || peak < port/2 {
		t.Errorf("peak area %v beside a port of %v m2", peak, port)
	}
}

func TestCrankTable(t *testing.T) {
	for a := 0.0; a <= cycleDegrees; a += 0.333 {
		v, area := atCrank(a)
		if math.Abs(v/cylinderVolume(a)-1) > 2e-5 || math.Abs(area-valveArea(a)) > 2e-9 {
			t.Fatalf("at %v degrees: %v, %v; want %v, %v", a, v, area, cylinderVolume(a), valveArea(a))
		}
	}
}

// Poisson's law p V^gamma = constant, for a cylinder without flow.
func TestCylinderIsAdiabatic(t *testing.T) {
	b := makeBreath()
	b.volume = 1e-12 // next to no runner
	b.cylinder.begin(400, 90e3)
	b.setPressure(90e3)
	v0 := b.cylinder.volume
	d := b.door(1e-9, 90e3)
	for i := range 2000 {
		b.setPressure((gamma - 1) * b.cylinder.energy / b.cylinder.volume) // equal: no flow
		b.draw(d, 400+float64(i)*0.05, 0.05)
	}
	p := (gamma - 1) * b.cylinder.energy / b.cylinder.volume
	want := 90e3 * math.Pow(v0/b.cylinder.volume, gamma)
	if math.Abs(p/want-1) > 1e-4 {
		t.Errorf("expanded to %.1f Pa, Poisson %.1f", p, want)
	}
}
