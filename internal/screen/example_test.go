package screen_test

import (
	"fmt"
	"strings"

	"evendraw/internal/pressure"
	"evendraw/internal/screen"
	"evendraw/internal/view"
)

// A view is drawn on a canvas as large as the terminal, here before any board has
// answered. A Terminal would show it.
func ExampleDraw() {
	v := view.View{Bike: "invented twin", Unit: pressure.Kilopascal}
	c := screen.NewCanvas(60, 16)
	screen.Draw(c, &v)
	for row := range strings.Lines(c.String()) {
		if strings.Contains(row, "board") {
			fmt.Println(strings.TrimSpace(row))
		}
	}
	// Output:
	// invented twin  – rpm                            no board yet
}
