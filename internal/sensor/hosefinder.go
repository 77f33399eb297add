package sensor

import (
	"math"

	"evendraw/internal/pressure"
)

// Limits of the hose finder.
const (
	// Samples are looked at in pieces of hosePieceSeconds. hoseRestPieces of them show the hoses at rest;
	// hoseHeldPieces in a row must show the same hose.
	hosePieceSeconds = 0.25
	hoseRestPieces   = 4
	hoseHeldPieces   = 2
	// hoseMinPull is the smallest change of a channel's mean that counts. Chosen: a weak pull by mouth is
	// some kPa, noise of a piece some hundredths.
	hoseMinPull pressure.KPa = 0.8
	// hoseMinLead is how many times as large as that of any other channel the change must be. Chosen:
	// fingers move neighbouring hoses a little.
	hoseMinLead = 3.0
	// A pinched hose's standard deviation falls below the share hosePinchedShare of that at rest, while every
	// other hose keeps hoseKeptShare. hoseMinPulse is the smallest at rest that is a pulse.
	hosePinchedShare              = 0.35
	hoseKeptShare                 = 0.6
	hoseMinPulse     pressure.KPa = 1
)

// HoseFinder sees which hose is sucked on, blown into or pinched. With the engine off that channel's pressure
// leaves the others; with the engine running a pinched hose no longer pulses.
type HoseFinder struct {
	used        []int
	piece       piece
	restPieces  int
	restMean    [MaxChannels]float64 // mean at rest
	restSD      [MaxChannels]float64 // standard deviation at rest
	last        int
	held        int
	found       int
	foundBefore int // channel of the hose found last, until it is let go; else -1
}

// NewHoseFinder returns a finder for those channels of a board. It watches the hoses at rest for a second first.
func NewHoseFinder(channels []int) *HoseFinder {
	return &HoseFinder{used: channels, last: -1, found: -1, foundBefore: -1}
}

// Ready reports whether the hoses at rest have been watched.
func (h *HoseFinder) Ready() bool { return h.restPieces >= hoseRestPieces }

// Again starts the search for the next hose; the one that was found must be let go first.
func (h *HoseFinder) Again() { h.foundBefore, h.last, h.found = h.found, -1, -1 }

// Push takes one sample and returns the channel whose hose is being touched, -1 as long as none is.
func (h *HoseFinder) Push(s *Sample) (channel int) {
	if h.piece.n == 0 || s.Break {
		h.piece = piece{from: s.Time}
	} else if s.Time-h.piece.from >= hosePieceSeconds {
		h.endPiece()
		h.piece = piece{from: s.Time}
	}
	h.piece.n++
	for _, i := range h.used {
		h.piece.add(i, float64(s.Absolute[i]))
	}
	return h.found
}

func (h *HoseFinder) endPiece() {
	var mean, sd [MaxChannels]float64
	for _, i := range h.used {
		mean[i], sd[i] = h.piece.meanSD(i)
	}
	if !h.Ready() {
		for _, i := range h.used {
			h.restMean[i] += mean[i] / hoseRestPieces
			h.restSD[i] += sd[i] / hoseRestPieces
		}
		h.restPieces++
		return
	}
	which := h.pulled(&mean)
	if which < 0 {
		which = h.pinched(&sd)
	}
	if h.foundBefore >= 0 && which == h.foundBefore {
		return
	}
	h.foundBefore = -1
	if which < 0 || which != h.last {
		h.last, h.held = which, 0
	}
	if which >= 0 {
		if h.held++; h.held >= hoseHeldPieces {
			h.found = which
		}
	}
}

// pulled returns the one channel whose mean has left its rest, -1 if there is none.
func (h *HoseFinder) pulled(mean *[MaxChannels]float64) int {
	which, most, next := -1, 0.0, 0.0
	for _, i := range h.used {
		if h.restSD[i] > float64(hoseMinPulse) {
			return -1 // with the engine running means wander
		}
		switch d := math.Abs(mean[i] - h.restMean[i]); {
		case d > most:
			which, most, next = i, d, most
		case d > next:
			next = d
		}
	}
	if most < float64(hoseMinPull) || most < hoseMinLead*next {
		return -1
	}
	return which
}

// pinched returns the one channel that has ceased to pulse, -1 if there is none.
func (h *HoseFinder) pinched(sd *[MaxChannels]float64) int {
	which := -1
	for _, i := range h.used {
		switch {
		case h.restSD[i] < float64(hoseMinPulse):
			return -1
		case sd[i] < hosePinchedShare*h.restSD[i] && which < 0:
			which = i
		case sd[i] < hoseKeptShare*h.restSD[i]:
			return -1
		}
	}
	return which
}
