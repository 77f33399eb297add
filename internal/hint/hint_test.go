package hint

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evendraw/internal/garage"
)

// A record with a checksum is not to be mended in an editor, a card is.
func TestHintOfADamagedFile(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for name, want := range map[string]string{"a.level": "garage check", "b.bench": "garage check",
		"bike.toml": "editor"} {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte("x"), 0o644); err != nil {
			t.Fatal(err)
		}
		var told strings.Builder
		Report(&told, &garage.Error{Path: path, Problem: "is damaged"})
		if !strings.Contains(told.String(), want) {
			t.Errorf("%s: %q", name, told.String())
		}
	}
}
