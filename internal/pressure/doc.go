// Package pressure holds the unit of pressure that the rest of the program speaks, the units that people
// read it in, and the standard atmosphere.
//
// KPa is a value. A Unit turns it into text for people:
//
//	value in unit = kPa * units in one kPa
//
// StandardAtmosphere gives the air pressure to expect at an altitude.
//
// In: kPa, as numbers. Out: text, or the kPa that a person meant. Begin with KPa and Units.
package pressure
