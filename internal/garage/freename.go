package garage

import (
	"errors"
	"fmt"
	"io/fs"
)

// FreeName is a name that no bike's card has yet: that one, else with a number after it. Another practice may have
// begun in the same second.
func (g *Garage) FreeName(name string) string {
	free := name
	for n := 2; ; n++ {
		if _, err := g.LoadBike(free); errors.Is(err, fs.ErrNotExist) || n > mostAtOnce {
			return free
		}
		free = fmt.Sprintf("%s, %d", name, n)
	}
}

// mostAtOnce bounds the practices that begin in one second. Chosen.
const mostAtOnce = 20
