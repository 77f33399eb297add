package pilotwords

import (
	"fmt"

	"evendraw/internal/balance"
	"evendraw/internal/pressure"
)

// NotLevelCycles are the fewest cycles on which a bank is told not to be level before a trim, and NotLevelAims how many
// aims its spread is then. Chosen: about a second; a bank that was levelled stays below.
const NotLevelCycles, NotLevelAims = 8, 2

// NotLevel says what a trim is worth beside a bank that is not level, "" beside one that is, or that is not known well.
func NotLevel(r *balance.Reading, aim pressure.KPa, u pressure.Unit) string {
	if r.Cycles < NotLevelCycles || !(r.Spread > NotLevelAims*aim) {
		return ""
	}
	return fmt.Sprintf("The bank is not level: spread %s %s, aim %s. Levelling it later changes each cylinder's "+
		"air, and the pilot screws would have to be trimmed again.", u.Format(r.Spread), u.Name, u.Format(aim))
}
