package garage

import (
	"encoding/json"
	"path/filepath"
	"time"

	"evendraw/internal/heat"
	"evendraw/internal/plain"
	"evendraw/internal/store"
)

// heatFolder holds a file for each bike whose engine idled last. As a Place they have no checksum:
// what can't be read is taken for none.
const heatFolder = "heat"

// heatFile is where a bike's budget of idling stood.
type heatFile struct {
	Format  int       `json:"format"`
	Bike    string    `json:"bike"`
	Idling  float64   `json:"idling_s"`
	Hot     bool      `json:"hot"`
	Turning bool      `json:"turning"`
	Fan     bool      `json:"fan"`
	Time    time.Time `json:"time"`
}

func (g *Garage) heatPath(bike string) string {
	if bike == "" {
		bike = "no bike"
	}
	return filepath.Join(g.dir, heatFolder, store.FolderName(plain.Lines(bike)))
}

// SaveHeat remembers where the budget of idling of a bike stands, "" without a card.
func (g *Garage) SaveHeat(bike string, h heat.State) error {
	f := heatFile{newestFormat, plain.Lines(bike), h.Seconds, h.Hot, h.Turning, h.Fan, g.now().UTC()}
	return g.saveNote(g.heatPath(bike), &f)
}

// LoadHeat returns the budget of idling of a bike as of now: the time since has heated or cooled it,
// see heat.State.Away. ok is false when nothing is left of it. A clock set back gives no cooling.
func (g *Garage) LoadHeat(bike string, limitS float64) (h heat.State, ok bool) {
	text, err := store.Read(g.heatPath(bike))
	var f heatFile
	if err != nil || json.Unmarshal(text, &f) != nil || f.Format != newestFormat || !(f.Idling >= 0) {
		return h, false
	}
	h = heat.State{Seconds: f.Idling, Limit: limitS, Hot: f.Hot, Turning: f.Turning, Fan: f.Fan}
	h.Away(max(g.now().Sub(f.Time).Seconds(), 0))
	return h, h.Seconds >= 1
}
