package store

import (
	"bytes"
	"testing"
)

// What was sealed comes back; one bit that is other does not.
func TestSeal(t *testing.T) {
	t.Parallel()
	for name, body := range map[string]string{"empty": "", "a line": "x\n", "no end": "x"} {
		t.Run(name, func(t *testing.T) {
			text := Seal([]byte(body))
			if got, err := Unseal(text); err != nil || string(got) != body || len(text) != len(body)+SealLength {
				t.Errorf("got %q, %v of %q", got, err, text)
			}
			for i := range text {
				bad := bytes.Clone(text)
				if bad[i] ^= 1; i%2 == 0 {
					bad = text[:i]
				}
				if got, err := Unseal(bad); err == nil {
					t.Errorf("byte %d: got %q", i, got)
				}
			}
		})
	}
}
