// Command release builds evendraw for all platforms and packs it: one archive a
// platform with the program, its manual pages, completions, README, LICENSE and
// hardware notes, and SHA256SUMS over all. The same commit and Go give the same
// bytes.
//
//	go run ./.release -version 1.2.0 -out DIR [-platform windows/amd64]
package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"flag"
	"fmt"
	"io/fs"
	"log"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"runtime"
	"sort"
	"strings"
	"time"
)

var platforms = []string{"linux/amd64", "linux/arm64", "darwin/amd64", "darwin/arm64", "windows/amd64", "windows/arm64"}

// shells are those that completions are made for, and the files they go to.
var shells = map[string]string{"bash": "evendraw.bash", "zsh": "_evendraw", "fish": "evendraw.fish",
	"powershell": "evendraw.ps1"}

// startHere is what somebody who has never met a command line reads first on Windows.
const startHere = `evendraw: level a bank of carburettors with a board, four sensors and a screwdriver

1. Take everything out of the zip: right click on it, "Extract all". Programs don't
   work from inside a zip.
2. Double click evendraw.exe. If Windows asks whether to run a program that it does
   not know: this one is not signed; "More info", "Run anyway", if you trust where you
   have it from. The job begins; ? shows the keys, q leaves.
3. To try it without a board, and for all else, open a terminal in this folder: right
   click beside the files, "Open in Terminal". Then type
      .\evendraw live --practice
      .\evendraw --help
4. The board: plug it in. hardware-notes\windows-port.md says what to do if its port
   does not show up.

Outdoors only: exhaust holds carbon monoxide. Keep hands, hair, leads and hoses from hot
and moving parts, petrol from heat; a standing engine overheats in minutes. The maker's
manual and the law of the place come first. README.md tells the rest.

It was tried under Wine, not yet on a real Windows.
`

// files maps a path in the archive to its content.
type files map[string][]byte

func main() {
	version := flag.String("version", "", "version to stamp, such as 1.2.0")
	out := flag.String("out", "", "folder for the archives; it is made")
	only := flag.String("platform", "", "this one alone, such as windows/amd64")
	flag.Parse()
	if *version == "" || *out == "" || flag.NArg() > 0 {
		flag.Usage()
		os.Exit(2)
	}
	if *only != "" {
		platforms = []string{*only}
	}
	if err := release(*version, *out); err != nil {
		log.Fatal("release: ", err)
	}
}

func release(version, out string) error {
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	work, err := os.MkdirTemp("", "evendraw-release")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work)
	common, err := common(version, work)
	if err != nil {
		return err
	}
	var sums bytes.Buffer
	for _, platform := range platforms {
		name, archive, err := pack(version, platform, work, common)
		if err != nil {
			return fmt.Errorf("%s: %w", platform, err)
		}
		if err := os.WriteFile(filepath.Join(out, name), archive, 0o644); err != nil {
			return err
		}
		fmt.Fprintf(&sums, "%x  %s\n", sha256.Sum256(archive), name)
	}
	os.Stdout.Write(sums.Bytes())
	return os.WriteFile(filepath.Join(out, "SHA256SUMS"), sums.Bytes(), 0o644)
}

// build compiles the program for a platform.
func build(version, platform, to string) error {
	system, arch, _ := strings.Cut(platform, "/")
	cmd := exec.Command("go", "build", "-trimpath", "-buildvcs=false", "-ldflags",
		"-s -w -buildid= -X main.version="+version, "-o", to, "./cmd/evendraw")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS="+system, "GOARCH="+arch)
	cmd.Stderr = os.Stderr
	return cmd.Run()
}

// common returns what every archive holds: texts, and what the program itself
// writes about its use.
func common(version, work string) (files, error) {
	here := filepath.Join(work, "here")
	if err := build(version, runtime.GOOS+"/"+runtime.GOARCH, here); err != nil {
		return nil, err
	}
	man := filepath.Join(work, "man")
	cmd := exec.Command("go", "run", "./cmd/manual", version, man)
	// Manual pages carry a date: the commit's.
	cmd.Env = append(os.Environ(), fmt.Sprintf("SOURCE_DATE_EPOCH=%d", commitTime().Unix()))
	if text, err := cmd.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("manual pages: %w: %s", err, text)
	}
	all := files{}
	if err := all.tree(man, "man/man1"); err != nil {
		return nil, err
	}
	for shell, name := range shells {
		text, err := exec.Command(here, "completion", shell).Output()
		if err != nil {
			return nil, fmt.Errorf("completion for %s: %w", shell, err)
		}
		all["completion/"+name] = text
	}
	for _, name := range []string{"README.md", "LICENSE"} {
		text, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		all[name] = text
	}
	all["testdata/levelling.svg"], _ = os.ReadFile("testdata/levelling.svg")
	for _, dir := range []string{"hardware-notes", "firmware-protocol"} {
		if err := all.tree(dir, dir); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// tree adds the files of a folder, but for Go's.
func (f files) tree(dir, to string) error {
	return filepath.WalkDir(dir, func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasSuffix(name, ".go") {
			return err
		}
		rel, err := filepath.Rel(dir, name)
		if err != nil {
			return err
		}
		f[path.Join(to, filepath.ToSlash(rel))], err = os.ReadFile(name)
		return err
	})
}

// pack builds for a platform and returns its archive.
func pack(version, platform, work string, common files) (name string, archive []byte, err error) {
	system, arch, _ := strings.Cut(platform, "/")
	program := "evendraw"
	if system == "windows" {
		program += ".exe"
	}
	to := filepath.Join(work, system+"-"+arch)
	if err := build(version, platform, to); err != nil {
		return "", nil, err
	}
	all := files{}
	for k, v := range common {
		all[k] = v
	}
	if all[program], err = os.ReadFile(to); err != nil {
		return "", nil, err
	}
	root := fmt.Sprintf("evendraw-%s-%s-%s", version, system, arch)
	if system == "windows" {
		all["START HERE.txt"] = []byte(strings.ReplaceAll(startHere, "\n", "\r\n"))
		archive, err = all.zip(root, program)
		return root + ".zip", archive, err
	}
	archive, err = all.tarGz(root, program)
	return root + ".tar.gz", archive, err
}

func (f files) names() []string {
	var names []string
	for name := range f {
		names = append(names, name)
	}
	sort.Strings(names)
	return names
}

func mode(name, program string) fs.FileMode {
	if name == program {
		return 0o755
	}
	return 0o644
}

// commitTime is the time that everything in an archive bears.
func commitTime() time.Time {
	out, err := exec.Command("git", "log", "-1", "--format=%ct").Output()
	var unix int64
	if err == nil {
		fmt.Sscan(string(out), &unix)
	}
	return time.Unix(unix, 0).UTC()
}

func (f files) zip(root, program string) ([]byte, error) {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, name := range f.names() {
		h := &zip.FileHeader{Name: root + "/" + name, Method: zip.Deflate, Modified: commitTime()}
		h.SetMode(mode(name, program))
		e, err := w.CreateHeader(h)
		if err != nil {
			return nil, err
		}
		if _, err := e.Write(f[name]); err != nil {
			return nil, err
		}
	}
	err := w.Close()
	return b.Bytes(), err
}

func (f files) tarGz(root, program string) ([]byte, error) {
	var b bytes.Buffer
	g := gzip.NewWriter(&b)
	w := tar.NewWriter(g)
	for _, name := range f.names() {
		h := &tar.Header{Name: root + "/" + name, Mode: int64(mode(name, program)), Size: int64(len(f[name])),
			ModTime: commitTime(), Format: tar.FormatPAX}
		if err := w.WriteHeader(h); err != nil {
			return nil, err
		}
		if _, err := w.Write(f[name]); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	err := g.Close()
	return b.Bytes(), err
}
