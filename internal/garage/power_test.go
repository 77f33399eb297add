package garage

import (
	"fmt"
	"io/fs"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"evendraw/internal/store"
)

// recording notes what is done to a file system, for TestPowerCut.
type recording struct {
	store.Disk
	steps []step
}

// step is one call. Files are numbered; 0 is the one there was before.
type step struct {
	call     string // mkdir, create, write, fsync, rename, remove or syncDir
	path, to string
	file     int
	data     string
}

func (r *recording) note(err error, s step) error {
	if err == nil {
		r.steps = append(r.steps, s)
	}
	return err
}

func (r *recording) Create(path string, perm fs.FileMode) (store.File, error) {
	made, err := r.Disk.Create(path, perm)
	n := len(r.steps) + 1
	return &recordedFile{made, r, n}, r.note(err, step{call: "create", path: path, file: n})
}

func (r *recording) Rename(from, to string) error {
	return r.note(r.Disk.Rename(from, to), step{call: "rename", path: from, to: to})
}

func (r *recording) Remove(path string) error {
	return r.note(r.Disk.Remove(path), step{call: "remove", path: path})
}

func (r *recording) Mkdir(path string) error {
	return r.note(r.Disk.Mkdir(path), step{call: "mkdir", path: path})
}

func (r *recording) SyncDir(path string) error {
	return r.note(r.Disk.SyncDir(path), step{call: "syncDir", path: path})
}

type recordedFile struct {
	store.File
	r *recording
	n int
}

func (f *recordedFile) Write(p []byte) (int, error) {
	n, err := f.File.Write(p)
	return n, f.r.note(err, step{call: "write", file: f.n, data: string(p)})
}

func (f *recordedFile) Sync() error {
	return f.r.note(f.File.Sync(), step{call: "fsync", file: f.n})
}

// disk is what a power cut leaves: which folders and files there are, and the file
// that each name stands for.
type disk struct {
	dirs  map[string]bool
	names map[string]int
}

// after returns the disk with a step done to its folders.
func (d disk) after(s step, nowAt map[string]int) disk {
	d = disk{maps.Clone(d.dirs), maps.Clone(d.names)}
	switch s.call {
	case "mkdir":
		d.dirs[s.path] = true
	case "create":
		d.names[s.path] = s.file
	case "rename":
		delete(d.names, s.path)
		d.names[s.to] = nowAt[s.path]
	case "remove":
		delete(d.names, s.path)
	}
	return d
}

// afterCut returns the disks that a power cut after the first n steps may
// leave: of the steps that change a folder, those before its last sync are
// done, and of the others any.
func afterCut(start disk, steps []step, n int) []disk {
	disks := []disk{start}
	nowAt := maps.Clone(start.names) // as the running program sees it
	for i, s := range steps[:n] {
		dir := filepath.Dir(s.path)
		switch s.call {
		case "write", "fsync", "syncDir":
			continue
		}
		lasting := false
		for _, later := range steps[i+1 : n] {
			lasting = lasting || later.call == "syncDir" && later.path == dir
		}
		var next []disk
		for _, d := range disks {
			next = append(next, d.after(s, nowAt))
			if !lasting {
				next = append(next, d)
			}
		}
		disks = next
		switch s.call {
		case "create":
			nowAt[s.path] = s.file
		case "rename":
			nowAt[s.to] = nowAt[s.path]
		}
	}
	return disks
}

// states returns what a file may hold after a power cut: what was written, if
// it was synced, and otherwise any of nothing, half of it, rubbish or all.
func states(steps []step, n, file int) []string {
	data, synced := "", false
	for _, s := range steps[:n] {
		if s.file == file && s.call == "write" {
			data, synced = data+s.data, false
		}
		synced = synced || s.file == file && s.call == "fsync"
	}
	if synced {
		return []string{data}
	}
	return []string{"", data[:len(data)/2], strings.Repeat("\x00", len(data)), data}
}

// Row 20 of the fault table: whatever of the unsynced is lost in a power cut, a
// file is the old or the new one, and only the new one once the save came back.
func TestPowerCut(t *testing.T) {
	t.Parallel()
	tried := 0
	for name, s := range saves {
		t.Run(name, func(t *testing.T) {
			g := openTest(t)
			must(t, s.prepare(g))
			old, _ := contents(t, g)
			r := &recording{}
			g.disk.Files = r
			must(t, s.save(g))
			now, _ := contents(t, g)

			path := s.path(g)
			for p := range now {
				if _, was := old[p]; path == "" && !was && slices.Contains(sealedEndings, filepath.Ext(p)) {
					path = p
				}
			}
			start := disk{map[string]bool{}, map[string]int{}}
			if _, ok := old[path]; ok {
				start.names[path] = 0
			}
			for n := range len(r.steps) + 1 {
				for _, d := range afterCut(start, r.steps, n) {
					for _, got := range seenAt(d, r.steps, n, path, old[path]) {
						tried++
						wasThere := len(start.names) > 0
						isNew := got == "file:"+now[path]
						isOld := got == "file:"+old[path] && wasThere || got == "none" && !wasThere
						if !isNew && (!isOld || n == len(r.steps)) {
							t.Fatalf("cut after %d of %d steps leaves %.60q\n%s", n, len(r.steps), got, trace(r.steps))
						}
					}
				}
			}
		})
	}
	t.Logf("count: %d states of a disk after a power cut, old or new each time", tried)
}

// seenAt returns what a path may hold on a disk.
func seenAt(d disk, steps []step, n int, path, old string) (all []string) {
	for _, s := range steps[:n] {
		if s.call == "mkdir" && strings.HasPrefix(path, s.path+string(filepath.Separator)) && !d.dirs[s.path] {
			return []string{"none"}
		}
	}
	file, ok := d.names[path]
	switch {
	case !ok:
		return []string{"none"}
	case file == 0:
		return []string{"file:" + old}
	}
	for _, data := range states(steps, n, file) {
		all = append(all, "file:"+data)
	}
	return all
}

func trace(steps []step) (text string) {
	for _, s := range steps {
		text += fmt.Sprintf("%s %s %s #%d %d bytes\n", s.call, filepath.Base(s.path), s.to, s.file, len(s.data))
	}
	return text
}
