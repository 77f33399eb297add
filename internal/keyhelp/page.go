// Package keyhelp says what the keys of the live screen do, and what is done in place of one where none is taken: in
// plain lines, and beside a recording. Begin with Page, Lines and Recording.
package keyhelp

import (
	"slices"

	"evendraw/internal/pressure"
)

// changing are the keys that do something to the job: a recording has none.
var changing = []string{
	"Enter     yes, done (Space and Page Down do the same)",
	"n  p  o   skip a step; back one (or Backspace); list of all steps",
	"z  s  m   zero the sensors; save a record; write a remark for it",
	"f  i  u   say that a fan is on or off; make an A4 page; page for a phone",
	"c         pilot screws: say that you turned another amount than told",
	"y         pilot screws: begin again with all",
	"d         disk full: keep the records in another folder",
}

// page is the rest of the page behind the question mark, a paragraph each.
var page = []string{
	"1-4  0    reference: cylinder 1 to 4; the mean of all",
	"k         change the unit: " + pressure.UnitNames(),
	"a  w  r   large words alone; pulses of all cylinders; the board's figures",
	"g         go on past a fault, or say that a screw is not turned yet",
	"l         find an air leak by water",
	"q         leave (Ctrl-C too);  Ctrl-Z  pause; type fg to come back",
	"",
	"Outdoors only: exhaust holds carbon monoxide. Keep hands, hair, leads and hoses away from hot and moving " +
		"parts. Keep petrol away from heat. An engine that idles without wind overheats in minutes: put a fan on it, " +
		"and let it cool in between. The clock of idling runs at half its pace while the engine is cold, and twice " +
		"as fast at a raised speed. Wear hearing protection. The maker's manual and the law of the place come first; " +
		"where in doubt ask a qualified mechanic.",
	"",
	"Clockwise: as you see it when you look at the head of the screw or knob.",
	"+1/8 after 1/8, or 1/8 after +1/8: a new amount, as large as the one that you have just turned.",
	"",
	"Each cylinder has a row. Diamond left of the line: less vacuum than the reference, so its butterfly is " +
		"further open. Right: more vacuum, further shut. The bar through it: the true place is within it 19 " +
		"times in 20, as long as no cylinder misfires. Dots: the aim. Dashes: the limit; the bike's manual " +
		"decides. At the right: the last 30 s.",
}

// Practice are the keys of the practice engine.
var Practice = []string{
	"e  b  v   start or stop the practice engine; blip; hold a raised speed",
	"j  x      wet the next cylinder's joint for 4 s; engine off: look for what is wrong, and mend it",
	"↑ ↓ Tab   take the next screw in hand;  t  the engine's true figures",
	"← →       turn it 1/8: → clockwise, ← anticlockwise; . and , turn 1/32",
}

// Page is the page behind the question mark, a paragraph each.
func Page(recording bool) []string {
	if recording {
		return page
	}
	return slices.Concat(changing, page)
}
