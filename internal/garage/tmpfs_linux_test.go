package garage

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"syscall"
	"testing"

	"evendraw/internal/effort"
)

// smallDisk mounts a file system of 64 KiB, which needs root.
func smallDisk(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=64k"); err != nil {
		effort.Missing(t, fmt.Sprintf("a file system can't be mounted (root is needed): %v", err))
	}
	t.Cleanup(func() { syscall.Unmount(dir, syscall.MNT_DETACH) })
	return dir
}

// Row 18 on a real file system: it fills up, every refused save says so, and what was
// there before is untouched; then it becomes read-only.
func TestFailOnAFullDisk(t *testing.T) {
	t.Parallel()
	dir := smallDisk(t)
	g, err := Open(filepath.Join(dir, "garage"))
	must(t, err)
	b := fullBike()
	must(t, g.NewBike(&b))
	u, err := g.OpenUnfinished(b.Name)
	must(t, err)
	must(t, u.Update(someRecord()))
	saved, refused := 0, 0
	for range 40 {
		before, _ := contents(t, g)
		_, err := g.SaveSync(b.Name, someRecord())
		after, temps := contents(t, g)
		switch {
		case err == nil:
			saved++
		case !errors.Is(err, syscall.ENOSPC) || len(after) != len(before) || temps != nil:
			t.Fatalf("%v; %d files, then %d; left %v", err, len(before), len(after), temps)
		default:
			refused++
		}
	}
	if saved == 0 || refused == 0 {
		t.Fatalf("%d saved, %d refused", saved, refused)
	}
	card := readText(t, mustPaths(t, g, b.Name).Card)
	if err := g.SaveEffects(b.Name, map[string]float64{"1-2": 3}); err != nil &&
		(!errors.Is(err, syscall.ENOSPC) || readText(t, mustPaths(t, g, b.Name).Card) != card) {
		t.Errorf("effects: %v", err)
	}
	if err := u.Update(someRecord()); err != nil && !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("update: %v", err)
	}
	if r := g.Inspect(); r.Files != saved+2 || r.Damaged != nil {
		t.Errorf("%d files, %v", r.Files, r.Damaged)
	}
	must(t, syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, "size=64k"))
	if _, err := g.SaveSync(b.Name, someRecord()); !errors.Is(err, syscall.EROFS) {
		t.Errorf("read-only: %v", err)
	}
	if err := u.Discard(); !errors.Is(err, syscall.EROFS) || errors.Is(err, fs.ErrNotExist) {
		t.Errorf("read-only: %v", err)
	}
	t.Logf("count: %d saves on a disk of 64 KiB, %d refused aloud, 0 lost or torn", saved, refused)
}

func mustPaths(t *testing.T, g *Garage, bike string) BikePaths {
	t.Helper()
	p, err := g.BikePaths(bike)
	must(t, err)
	return p
}
