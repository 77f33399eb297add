package advice

// Direction is the way to turn a screw, as seen looking at its head. A pilot screw goes
// in clockwise.
type Direction string

// Directions; UnknownWay stands where none is known or advised.
const (
	Clockwise     Direction = "clockwise"
	Anticlockwise Direction = "anticlockwise"
	UnknownWay    Direction = ""
)

// Opposite returns the other direction.
func (d Direction) Opposite() Direction {
	switch d {
	case Clockwise:
		return Anticlockwise
	case Anticlockwise:
		return Clockwise
	}
	return d
}

// Sign is -1 for anticlockwise, else +1.
func (d Direction) Sign() float64 {
	if d == Anticlockwise {
		return -1
	}
	return 1
}

// WayOf returns the direction of an amount of turns, clockwise positive; 0 is clockwise.
func WayOf(turns float64) Direction {
	if turns < 0 {
		return Anticlockwise
	}
	return Clockwise
}
