package main

import (
	"math"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/garage"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// mostCylinders is how many pressure channels are read without a bike card.
const mostCylinders = bank.MaxCylinders

// The aim and the limit without a bike card.
const (
	defaultAim   = balance.DefaultAim
	defaultLimit = balance.DefaultLimit
)

// stateOrder is the order in which channel states are listed.
var stateOrder = []cycle.State{cycle.OK, cycle.NoPulse, cycle.Ambient, cycle.WeakPulse, cycle.RailLow, cycle.RailHigh, cycle.Stale}

// tableCard stands for the rig of another logger's table: sensors of one kind.
func tableCard(kind string, channels int) (garage.Board, error) {
	card := garage.Board{Serial: "table"}
	if kind == "" {
		return card, nil
	}
	k, err := sensor.ParseKind(kind)
	if err != nil {
		return card, &usageError{err}
	}
	for range channels {
		card.Sensors = append(card.Sensors, k.Name)
	}
	return card, nil
}

// unknown is a figure that is not known.
var (
	unknown    = math.NaN()
	unknownKPa = pressure.KPa(unknown)
)
