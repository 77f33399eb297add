package garage

import (
	"path/filepath"
	"strings"

	"evendraw/internal/store"
)

// pageFile holds the token in the address of the page for phones.
const pageFile = "page"

// PageToken returns the token of the page that was used last, so that a phone finds it again after
// a restart of the program; where there is none, or none that is good, it keeps fresh. A
// garage that can't be written forgets it, which is no failure.
func (g *Garage) PageToken(good func(string) bool, fresh string) string {
	path := filepath.Join(g.dir, pageFile)
	if text, err := store.Read(path); err == nil {
		if token := strings.TrimSpace(string(text)); good(token) {
			return token
		}
	}
	g.disk.Replace(path, []byte(fresh+"\n"))
	return fresh
}
