package sensor

import (
	"math"

	"evendraw/internal/frame"
	"evendraw/internal/pressure"
)

// Limits of the hose finder.
const (
	// hosePiece is the length of one piece in s; hoseRest how many pieces make the picture of the hoses
	// at rest, hoseHeld how many in a row must show the same hose.
	hosePiece = 0.25
	hoseRest  = 4
	hoseHeld  = 2
	// hosePull is the least change of a channel's mean that counts. Chosen: a weak pull by mouth is
	// some kPa, noise of a piece some hundredths.
	hosePull pressure.KPa = 0.8
	// hoseAlone is how many times that of any other channel it must be. Chosen: fingers move
	// neighbouring hoses a little.
	hoseAlone = 3.0
	// hoseFlat is to which share of its swing at rest a pinched hose's must fall, while every other keeps
	// hoseKept, and hosePulse the swing (standard deviation) that counts as one.
	hoseFlat               = 0.35
	hoseKept               = 0.6
	hosePulse pressure.KPa = 1
)

// HoseFinder sees which hose is sucked on, blown into or pinched. With the engine off that channel's pressure
// leaves the others; with the engine running a pinched hose no longer pulses.
type HoseFinder struct {
	used   []int
	from   float64
	n      int
	sum    [MaxChannels]float64
	sq     [MaxChannels]float64
	rest   int
	restAt [MaxChannels]float64 // mean at rest
	swing  [MaxChannels]float64 // standard deviation at rest
	last   int
	held   int
	found  int
	was    int // channel of the hose found last, as long as that has not been let go; else -1
}

// NewHoseFinder returns a finder for the pressure channels of a board. It first takes a second of the
// hoses at rest.
func NewHoseFinder(channels []frame.Channel) *HoseFinder {
	h := &HoseFinder{last: -1, found: -1, was: -1}
	for i, c := range channels {
		if c.Role == frame.Pressure {
			h.used = append(h.used, i)
		}
	}
	return h
}

// Ready reports whether the picture of the hoses at rest is there.
func (h *HoseFinder) Ready() bool { return h.rest >= hoseRest }

// Again has the finder look for the next hose, once the one it found has been let go.
func (h *HoseFinder) Again() { h.was, h.last, h.found = h.found, -1, -1 }

// Push takes one sample and returns the channel whose hose is being touched, -1 as long as none is.
func (h *HoseFinder) Push(s *Sample) (channel int) {
	if h.n == 0 || s.Break {
		h.begin(s.Time)
	} else if s.Time-h.from >= hosePiece {
		h.endPiece()
		h.begin(s.Time)
	}
	h.n++
	for _, i := range h.used {
		v := float64(s.Absolute[i])
		h.sum[i], h.sq[i] = h.sum[i]+v, h.sq[i]+v*v
	}
	return h.found
}

func (h *HoseFinder) begin(t float64) {
	h.from, h.n = t, 0
	h.sum, h.sq = [MaxChannels]float64{}, [MaxChannels]float64{}
}

func (h *HoseFinder) endPiece() {
	var mean, sd [MaxChannels]float64
	for _, i := range h.used {
		mean[i] = h.sum[i] / float64(h.n)
		sd[i] = math.Sqrt(max(h.sq[i]/float64(h.n)-mean[i]*mean[i], 0))
	}
	if !h.Ready() {
		for _, i := range h.used {
			h.restAt[i] += mean[i] / hoseRest
			h.swing[i] += sd[i] / hoseRest
		}
		h.rest++
		return
	}
	which := h.pulled(&mean)
	if which < 0 {
		which = h.pinched(&sd)
	}
	if h.was >= 0 && which == h.was {
		return
	}
	h.was = -1
	if which < 0 || which != h.last {
		h.last, h.held = which, 0
	}
	if which >= 0 {
		if h.held++; h.held >= hoseHeld {
			h.found = which
		}
	}
}

// pulled returns the one channel whose mean has left its rest, -1 if there is none.
func (h *HoseFinder) pulled(mean *[MaxChannels]float64) int {
	which, most, next := -1, 0.0, 0.0
	for _, i := range h.used {
		if h.swing[i] > float64(hosePulse) {
			return -1 // the engine runs: means wander
		}
		switch d := math.Abs(mean[i] - h.restAt[i]); {
		case d > most:
			which, most, next = i, d, most
		case d > next:
			next = d
		}
	}
	if most < float64(hosePull) || most < hoseAlone*next {
		return -1
	}
	return which
}

// pinched returns the one channel that has ceased to pulse, -1 if there is none.
func (h *HoseFinder) pinched(sd *[MaxChannels]float64) int {
	which := -1
	for _, i := range h.used {
		switch {
		case h.swing[i] < float64(hosePulse):
			return -1
		case sd[i] < hoseFlat*h.swing[i] && which < 0:
			which = i
		case sd[i] < hoseKept*h.swing[i]:
			return -1
		}
	}
	return which
}
