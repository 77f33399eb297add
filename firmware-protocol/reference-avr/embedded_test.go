package avr_test

import (
	"bytes"
	"flag"
	"os"
	"testing"

	"evendraw/internal/bootloader"
)

var update = flag.Bool("update", false, "write the board program that evendraw brings along anew")

// embedded is the board program that evendraw brings along.
const embedded = "../../internal/bootloader/board.hex"

// What evendraw puts on boards is what these sources give, byte for byte, and says what evendraw takes it for.
func TestEmbeddedProgramIsAFreshBuild(t *testing.T) {
	t.Parallel()
	dir := build(t, "all", "harness")
	fresh, err := os.ReadFile(dir + "/board.hex")
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile(embedded, fresh, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	have, err := os.ReadFile(embedded)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(have, fresh) {
		t.Errorf("%s is not what the sources give with this compiler (go test ./firmware-protocol/reference-avr -run "+
			"Embedded -update)", embedded)
	}
	a := decode(simulate(t, dir, "--seconds", "1")).boards[0]
	if a.Model != bootloader.ProgramModel || a.Program != bootloader.ProgramVersion {
		t.Errorf("it says %s %s, evendraw takes it for %s %s", a.Model, a.Program, bootloader.ProgramModel,
			bootloader.ProgramVersion)
	}
}
