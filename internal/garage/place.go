package garage

import (
	"encoding/json"
	"path/filepath"
	"time"

	"evendraw/internal/plain"
	"evendraw/internal/store"
)

// placeFile holds the Place. It is worth no checksum: what can't be read is taken for none.
const placeFile = "place"

// Place is where a job stood when it was last looked at, so that the next start goes on there.
type Place struct {
	Format int       `json:"format"` // set by SavePlace
	Bike   string    `json:"bike"`   // "" without a card
	Step   string    `json:"step"`   // the step's ID
	Time   time.Time `json:"time"`   // kept in UTC; set by SavePlace
}

// SavePlace remembers where the job with a bike stands.
func (g *Garage) SavePlace(bike, step string) error {
	p := Place{newestFormat, plain.Lines(bike), plain.Lines(step), g.now().UTC()}
	return g.saveNote(filepath.Join(g.dir, placeFile), &p)
}

// saveNote keeps v as JSON without a checksum.
func (g *Garage) saveNote(path string, v any) error {
	text, err := json.Marshal(v)
	if err != nil {
		return store.NotSaved(path, err)
	}
	return g.disk.Replace(path, append(text, '\n'))
}

// LoadPlace returns the Place remembered last; ok is false when there is none, or none that this program can read.
func (g *Garage) LoadPlace() (p Place, ok bool) {
	text, err := store.Read(filepath.Join(g.dir, placeFile))
	if err != nil || json.Unmarshal(text, &p) != nil || p.Format != newestFormat {
		return Place{}, false
	}
	p.Bike, p.Step = plain.Lines(p.Bike), plain.Lines(p.Step)
	return p, true
}
