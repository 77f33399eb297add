package tell

import (
	"fmt"
	"io"
	"strings"

	"evendraw/internal/bootloader"
	"evendraw/internal/frame"
	"evendraw/internal/plain"
)

// OnBoard is what a board was seen to hold before the board program is put on it.
type OnBoard struct {
	Says  *frame.Announcement // nil: it announces nothing
	Bytes uint64              // that came all the same
	Found bootloader.Found
}

// Ours reports whether it holds the board program of this project, of any version.
func (b *OnBoard) Ours() bool {
	return b.Says != nil && strings.HasPrefix(b.Says.Model, bootloader.ProgramModel)
}

// Outdated reports whether it holds an older version of the board program.
func (b *OnBoard) Outdated() bool { return b.Ours() && bootloader.Older(b.Says.Program) }

// holds says in a sentence what is on the board, as far as it is known.
func (b *OnBoard) holds() string {
	switch {
	case b.Outdated():
		return fmt.Sprintf("It holds an older evendraw program, %s; this is %s.", plain.Text(b.Says.Program),
			bootloader.ProgramVersion)
	case b.Ours() && b.Says.Program == bootloader.ProgramVersion:
		return "It holds this very program, " + bootloader.ProgramVersion + ", already."
	case b.Ours():
		return fmt.Sprintf("It holds an evendraw program that is not older, %s; this is %s.",
			plain.Text(b.Says.Program), bootloader.ProgramVersion)
	case b.Says != nil:
		return fmt.Sprintf("It holds a program of its own, %s %s, which evendraw can read as it is.",
			plain.Text(b.Says.Model), plain.Text(b.Says.Program))
	case b.Found.Content == bootloader.Blank:
		return "The board holds no program."
	case b.Found.Content == bootloader.Halted:
		return "An installation on it was broken off."
	case b.Found.Content == bootloader.Same:
		return "The board holds an evendraw program, which sends nothing."
	case b.Bytes > 0:
		return "The board holds another program, which sends data."
	}
	return "The board holds another program, which sends nothing."
}

// Loses says in two sentences what is on the board, and whether it is lost by installing.
func (b *OnBoard) Loses() string {
	if b.Says == nil && (b.Found.Content == bootloader.Blank || b.Found.Content == bootloader.Halted) {
		return b.holds() + " Nothing is lost."
	}
	return b.holds() + " Going on erases that program: it can't be brought back."
}

// BeforeInstall says what is on the board at a port, and what installing does to it.
func BeforeInstall(path string, b *OnBoard) []string {
	return []string{
		fmt.Sprintf("   %s: an %v with a boot loader at %d bit/s.", path, b.Found.Chip, b.Found.Baud),
		"   " + b.Loses(),
		fmt.Sprintf("   Program %s, %d bytes, will be written to its flash.", bootloader.ProgramVersion,
			bootloader.Program().Bytes()),
		"   Its boot loader, its fuses and its serial number stay as they are.",
	}
}

// OfferInstall says why a board is offered the board program.
func OfferInstall(path string, b *OnBoard) []string {
	what := "says nothing"
	switch {
	case b.Outdated():
		what = "holds an older evendraw program"
	case b.Says != nil || b.Bytes > 0:
		what = "says something else"
	}
	return []string{fmt.Sprintf("   What is on %s %s.", path, what),
		"   If it is your board, evendraw can put its program on it now. Looking for its boot loader …"}
}

// NotInstalled says in a line what was left on a board as it was.
func NotInstalled(b *OnBoard) string { return "left as it is. " + b.holds() }

// WrongChip says that a chip is none that the program is for.
func WrongChip(c bootloader.Chip) string {
	return fmt.Sprintf("its chip is an %v: nothing was written", c)
}

// Installed says that a board runs the program, seen being what it said before.
func Installed(now, before *frame.Announcement) []string {
	line := fmt.Sprintf("   Written and read back. Board %s runs program %s.", plain.Text(now.Serial),
		plain.Text(now.Program))
	if before != nil && before.Serial == now.Serial {
		line += " It kept its serial number."
	}
	return []string{line}
}

// Texts on a board that can't be installed, and on what to do.
const (
	NoLoader     = "no boot loader answers at 115200 or 57600 bit/s"
	NoLoaderHint = "See that nothing is on the board's pins 0 and 1, and that it is a board with an ATmega328P; try " +
		"another USB lead and socket. Boards of other kinds, and boards whose boot loader is missing, can't be " +
		"installed from here: hardware-notes/README.md says what to buy, and how a programmer does it."
	OtherChipHint = "The board program is for the ATmega328P (and 328PB) at 16 MHz; other boards can print their " +
		"readings: hardware-notes/README.md has a sketch of twenty lines."
	SlowClock = "this board runs at 8 MHz, and the board program needs 16: its speeds would be wrong by half"
	SlowHint  = "The board was made silent again, and is unharmed: it takes any other program. Get one of 16 MHz, 5 V."
	StillLeft = "It was written and read back, but does not talk. Press its reset button, then: evendraw board check"
	CutHint   = "The board is silent now, and not broken: plug it in and run evendraw board install once more."
	PressNow  = "   No boot loader answers by itself. Press the board's reset button now, and again every six seconds …"
)

// PortMenu says which ports there are to choose from: a line each.
func PortMenu(out io.Writer, names []string) {
	fmt.Fprintln(out, "   There are several serial ports. Which one is the board's?")
	for i, n := range names {
		fmt.Fprintf(out, "   %2d  %s\n", i+1, n)
	}
}

// barWidth is how many marks a whole bar has (chosen: it fits on any terminal).
const barWidth = 50

// Bar is a progress bar that only ever adds marks, so that it looks alike on a terminal, through a pipe and in a log.
type Bar struct {
	Out   io.Writer
	shown int
}

// Show draws the bar up to so many of all.
func (b *Bar) Show(done, all int) {
	if b.shown == 0 {
		fmt.Fprintf(b.Out, "   0 %%%*s\n   ", barWidth-3, "100 %")
	}
	to := max(1, done*barWidth/all)
	if to > b.shown {
		fmt.Fprint(b.Out, strings.Repeat("#", to-b.shown))
		b.shown = to
		if to == barWidth {
			fmt.Fprintln(b.Out)
		}
	}
}

// End ends the line of a bar that was not finished.
func (b *Bar) End() {
	if b.shown > 0 && b.shown < barWidth {
		fmt.Fprintln(b.Out)
	}
}
