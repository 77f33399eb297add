package garage

import (
	"os"
	"path/filepath"
	"strings"

	"evendraw/internal/store"
)

// pageFile holds the token in the address of the page for phones.
const pageFile = "page"

// ownerOnly is the mode of a file that nobody but its owner reads.
const ownerOnly = 0o600

// PageToken returns the token of the page that was used last, so that a phone finds it again after
// a restart of the program; where there is none, or none that is good, or with anew, it keeps fresh. The
// error is of one that could not be kept: it holds for this run. Other users of the machine can't read it.
func (g *Garage) PageToken(good func(string) bool, fresh string, anew bool) (token string, err error) {
	path := filepath.Join(g.dir, pageFile)
	text, err := store.Read(path)
	if token := strings.TrimSpace(string(text)); err == nil && !anew && good(token) {
		os.Chmod(path, ownerOnly) // earlier versions let all read it
		return token, nil
	}
	if g.disk.MakeDirs(g.dir) == nil {
		if f, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY, ownerOnly); err == nil {
			f.Chmod(ownerOnly)
			f.Close()
		}
	}
	return fresh, g.disk.Replace(path, []byte(fresh+"\n")) // which keeps the mode
}
