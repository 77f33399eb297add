package store

import (
	"crypto/sha256"
	"fmt"
)

// A sealed file is a body and a last line of sumWord and the checksum of all before the line, in small hexadecimal.
const sumWord = "sha256 "

// SealLength is how many bytes Seal adds.
const SealLength = len(sumWord) + 2*sha256.Size + 1

// Seal returns a body with the line of its checksum.
func Seal(body []byte) []byte { return append(body, sumLine(body)...) }

func sumLine(body []byte) string { return fmt.Sprintf("%s%x\n", sumWord, sha256.Sum256(body)) }

// Unseal returns the body of a sealed file; its Error has no path.
func Unseal(text []byte) ([]byte, error) {
	if n := len(text) - SealLength; n >= 0 && string(text[n:]) == sumLine(text[:n]) {
		return text[:n], nil
	}
	return nil, errSeal
}

// errSeal marks a file that was changed or cut short.
var errSeal = &Error{Problem: "is damaged: its checksum, the last line, does not fit"}
