package page_test

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"evendraw/internal/page/pagetest"
)

var update = flag.Bool("update", false, "write the golden pictures of the page anew")

// A picture is like another if few of its tiles differ by much: letters are drawn a little otherwise
// by each version of a browser. All chosen.
const (
	tile         = 12   // pixels
	unlike       = 48   // of 255, mean of a tile
	mostUnlike   = 0.06 // share of tiles
	goldenEngine = "chromium"
)

// golden compares what the page shows with the picture that somebody has looked at. Of the other
// engine it only keeps the picture, for who wants to look.
func golden(t *testing.T, b *pagetest.Browser, name string, size [2]int) {
	t.Helper()
	got := b.Screenshot()
	file := fmt.Sprintf("%s-%dx%d.png", name, size[0], size[1])
	if b.Engine.Name != goldenEngine {
		os.WriteFile(filepath.Join(t.ArtifactDir(), b.Engine.Name+"-"+file), got, 0o644)
		return
	}
	path := filepath.Join("testdata", file)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if share := unlikeTiles(t, got, want); share > mostUnlike {
		kept := filepath.Join(t.ArtifactDir(), file)
		os.WriteFile(kept, got, 0o644)
		t.Errorf("%s: %.1f %% of it is another, see %s; go test ./internal/page -update", file, 100*share, kept)
	}
}

// unlikeTiles returns the share of tiles in which two pictures differ; 1 where their sizes do.
func unlikeTiles(t *testing.T, a, b []byte) float64 {
	t.Helper()
	decode := func(p []byte) image.Image {
		m, err := png.Decode(bytes.NewReader(p))
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	got, want := decode(a), decode(b)
	if got.Bounds() != want.Bounds() {
		return 1
	}
	tiles, differ := 0, 0
	for y := 0; y < got.Bounds().Dy(); y += tile {
		for x := 0; x < got.Bounds().Dx(); x += tile {
			tiles++
			if d := grey(got, x, y) - grey(want, x, y); d > unlike || d < -unlike {
				differ++
			}
		}
	}
	return float64(differ) / float64(tiles)
}

// grey is the mean of a tile, 0 to 255.
func grey(m image.Image, left, top int) float64 {
	sum, n := 0.0, 0
	for y := top; y < min(top+tile, m.Bounds().Dy()); y++ {
		for x := left; x < min(left+tile, m.Bounds().Dx()); x++ {
			r, g, b, _ := m.At(x, y).RGBA()
			sum += float64(r+g+b) / 3 / 257
			n++
		}
	}
	return sum / float64(n)
}
