package garage

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
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

// FreeFile returns the path of a file in a folder that is not there yet: name with the ending, or name 2, name 3.
func FreeFile(dir, name, ending string) string {
	path := filepath.Join(dir, name+ending)
	for n := 2; ; n++ {
		if _, err := os.Lstat(path); err != nil {
			return path
		}
		path = filepath.Join(dir, fmt.Sprintf("%s %d%s", name, n, ending))
	}
}
