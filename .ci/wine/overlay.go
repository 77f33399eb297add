package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// writeOverlay writes into dir what `go test -overlay` needs, and returns that file: Wine 8.0 refuses to remove
// a file by its handle with a status that Go's library does not take as "do it the old way", so that
// os.RemoveAll would fail. goroot is where Go's sources are.
func writeOverlay(goroot, dir string) (string, error) {
	const known, refusal = "STATUS_NOT_SUPPORTED: ", "STATUS_NOT_SUPPORTED, NTStatus(0xC0000002): "
	source := filepath.Join(goroot, "src/internal/syscall/windows/at_windows.go")
	text, err := os.ReadFile(source)
	if err != nil {
		return "", err
	}
	if strings.Count(string(text), known) != 1 {
		return "", fmt.Errorf("wine: %s is not as it was known: see whether os.RemoveAll works now", source)
	}
	mended := filepath.Join(dir, "at_windows.go")
	if err := os.WriteFile(mended, []byte(strings.Replace(string(text), known, refusal, 1)), 0o644); err != nil {
		return "", err
	}
	overlay, _ := json.Marshal(map[string]any{"Replace": map[string]string{source: mended}})
	file := filepath.Join(dir, "overlay.json")
	return file, os.WriteFile(file, overlay, 0o644)
}
