package bootloader

import (
	"bytes"
	_ "embed"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// boardHex is firmware-protocol/reference-avr as its Makefile builds it. A test there holds it against a fresh
// build, and with -update writes it.
//
//go:embed board.hex
var boardHex []byte

const (
	// ProgramModel and ProgramVersion are what Program announces itself as.
	ProgramModel   = "reference-avr"
	ProgramVersion = "1.0.0"
	// ProgramBaud is the rate at which it talks on a 16 MHz board, bit/s.
	ProgramBaud = 500_000
)

// Program returns the board program.
var Program = sync.OnceValue(func() *Image {
	m, err := ReadHex(bytes.NewReader(boardHex))
	if err != nil {
		panic("bootloader: internal error: " + err.Error())
	}
	return m
})

// Older reports whether a version of the board program is older than the one brought along. What is no
// version, as of a program changed by hand, is not.
func Older(version string) bool {
	have, ok := numbers(version)
	ours, _ := numbers(ProgramVersion)
	return ok && slices.Compare(have, ours) < 0
}

// numbers reads a version of numbers with dots between.
func numbers(version string) (all []int, ok bool) {
	for part := range strings.SplitSeq(version, ".") {
		n, err := strconv.Atoi(part)
		if err != nil || n < 0 {
			return nil, false
		}
		all = append(all, n)
	}
	return all, true
}
