package rules

import (
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"unicode/utf8"
)

const (
	root   = "../.."
	module = "evendraw/"
	// maxFileLines, maxFuncLines and maxLineColumns are the size budget.
	maxFileLines   = 400
	maxFuncLines   = 60
	maxLineColumns = 120
)

// mayImport is what a package may import beside
// the standard library. Tests may import more.
var mayImport = map[string][]string{
	"cmd/evendraw": {"cli"},
	"cmd/manual":   {"cli", "manual"},
	"cmd/trial":    {"store", "trial", "golang.org/x/term"},
	"internal/cli": {"balance", "bank", "benchwords", "bikeform", "board", "capture", "commission", "cycle", "desk",
		"engine", "exhaust", "garage", "hint", "job", "mixture", "plain", "plot", "practice", "pressure",
		"probe", "screen", "sensor", "settings", "sheet", "tell", "typing", "view",
		"github.com/inconshreveable/mousetrap", "github.com/spf13/cobra", "github.com/spf13/pflag"},
	"internal/commission": {"balance", "board", "bootloader", "capture", "engine", "frame", "garage", "head", "hint",
		"plain", "practice", "pressure", "sensor", "session", "settings", "tell", "typing", "view"},
	"internal/bikeform":  {"bank", "garage", "plain"},
	"internal/benchform": {"benchwords", "garage", "plain", "view"},
	"internal/desk": {"balance", "benchform", "capture", "frame", "garage", "head", "hint", "plain", "pressure",
		"screen", "sensor", "session", "settings", "tell", "typing", "view"},
	"internal/job": {"advice", "balance", "bank", "board", "capture", "commission", "frame", "garage", "head", "heat",
		"raised", "hint", "keep", "keyhelp", "mixture", "page", "pilotwords", "plain", "practice", "pressure", "screen",
		"sensor", "session", "settings", "sheet", "tell", "typing", "view", "voice"},
	"internal/keep": {"advice", "balance", "bank", "garage", "mixture", "practice", "pressure", "session", "settings",
		"raised", "tell"},
	"internal/settings": {"balance", "bank", "board", "capture", "frame", "garage", "head", "hint", "mixture", "plain",
		"practice", "pressure", "probe", "screen", "sensor", "session", "store", "tell"},
	"internal/hint":   {"board", "capture", "frame", "garage", "plain"},
	"internal/typing": {"plain", "golang.org/x/term"},
	"internal/page":   {"view", "voice", "github.com/boombuler/barcode"},
	"internal/head":   {"bank", "capture", "frame", "pressure", "sensor", "session"},
	"internal/practice": {"advice", "balance", "bank", "engine", "frame", "garage", "mixture", "plain", "pressure",
		"raised", "probe", "sensor", "session", "view", "heat", "airleak"},
	"internal/learned":    {"bank"},
	"internal/series":     {"pressure", "gonum.org/v1/gonum"},
	"internal/pressure":   {"plain"},
	"internal/plain":      {},
	"internal/frame":      {},
	"internal/capture":    {"frame", "plain", "store"},
	"internal/board":      {"frame", "plain", "go.bug.st/serial", "go.bug.st/serial/enumerator"},
	"internal/bootloader": {},
	"internal/sensor":     {"frame", "plain", "pressure", "series", "gonum.org/v1/gonum"},
	"internal/cycle":      {"misfire", "nozzle", "sensor", "pressure"},
	"internal/nozzle":     {},
	"internal/misfire":    {"sensor", "pressure"},
	"internal/airleak":    {"cycle"},
	"internal/hoses":      {"bank", "cycle"},
	"internal/warmup":     {"bank", "cycle"},
	"internal/bank":       {},
	"internal/advice":     {},
	"internal/linkage":    {"bank", "cycle", "series", "gonum.org/v1/gonum"},
	"internal/faults":     {"advice", "cycle", "linkage", "pressure", "series"},
	"internal/balance": {"faults", "learned", "linkage", "advice", "cycle", "hoses", "bank", "pressure",
		"gonum.org/v1/gonum", "heat", "series", "warmup"},
	"internal/mixture": {"advice", "cycle", "bank", "pressure", "gonum.org/v1/gonum", "heat", "touched"},
	"internal/raised":  {"advice", "bank", "cycle", "pressure"},
	"internal/touched": {"bank", "cycle"},
	"internal/heat":    {},
	"internal/probe":   {},
	"internal/exhaust": {},
	"internal/session": {"advice", "frame", "capture", "board", "sensor", "cycle", "bank", "balance", "mixture",
		"raised", "pressure", "probe", "heat", "airleak", "hoses", "series"},
	"internal/engine": {"frame", "bank", "pressure", "gonum.org/v1/gonum"},
	"internal/trial": {"advice", "balance", "bank", "engine", "frame", "mixture", "practice", "pressure", "sensor",
		"session", "view", "plot"},
	"internal/store":      {"plain"},
	"internal/card":       {"plain", "store", "github.com/pelletier/go-toml/v2"},
	"internal/garage":     {"store", "card", "plain", "pressure", "bank", "balance", "capture", "heat", "series"},
	"internal/benchwords": {"garage", "plain"},
	"internal/voice":      {"plain", "view"},
	"internal/view": {"advice", "benchwords", "bikeform", "plain", "session", "garage", "balance", "mixture",
		"raised", "pressure", "cycle", "sensor", "frame", "heat", "airleak", "hills", "hoses", "suspects", "rates",
		"keyhelp", "pilotwords", "raisedwords", "turnwords", "waves", "series", "rigfacts"},
	"internal/rigfacts":    {"cycle", "plain", "pressure", "session", "suspects"},
	"internal/waves":       {"bank", "pressure", "session"},
	"internal/hills":       {"balance"},
	"internal/rates":       {"session"},
	"internal/keyhelp":     {"pressure"},
	"internal/suspects":    {"advice", "cycle", "raised"},
	"internal/pilotwords":  {"advice", "balance", "garage", "mixture", "plain", "pressure", "probe", "session"},
	"internal/turnwords":   {"advice", "plain", "pressure", "suspects"},
	"internal/raisedwords": {"raised", "pilotwords", "pressure", "suspects"},
	"internal/tell": {"advice", "balance", "bank", "benchwords", "bootloader", "cycle", "frame", "garage", "mixture",
		"raised", "pilotwords", "plain", "pressure", "probe", "sensor", "session", "view", "heat", "airleak", "hoses",
		"suspects", "turnwords"},
	"internal/manual": {"github.com/spf13/cobra", "github.com/spf13/pflag"},
	"internal/plot":   {"plain", "golang.org/x/image"},
	"internal/sheet":  {"benchwords", "garage", "plain", "plot", "pressure", "tell", "view"},
	"internal/screen": {"benchform", "plain", "view", "waves", "github.com/gdamore/tcell/v2", "github.com/rivo/uniseg",
		"golang.org/x/sys", "golang.org/x/term"},
	"internal/rules": {},
	// Only tests import these.
	"internal/effort":        {},
	"internal/invented":      {"balance", "bank", "cycle", "garage", "session"},
	"internal/page/pagetest": {"effort"},
	"internal/wine":          {},
	"internal/fakeboard":     {"frame", "engine", "github.com/creack/pty", "golang.org/x/term"},
}

// soleUser names libraries that one file or package alone may import.
var soleUser = map[string]string{
	"github.com/boombuler/barcode":    "internal/page/",
	"github.com/gdamore/tcell/v2":     "internal/screen/terminal",
	"github.com/pelletier/go-toml/v2": "internal/card/",
	"go.bug.st/serial":                "internal/board/",
}

// source is one parsed Go file.
type source struct {
	path string // from the root, slashes
	file *ast.File
	fset *token.FileSet
}

func sources(t *testing.T) []source {
	t.Helper()
	all, err := parsed()
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 80 {
		t.Fatalf("only %d Go files found", len(all))
	}
	return all
}

// parsed reads every Go file, once for all tests.
var parsed = sync.OnceValues(func() (all []source, err error) {
	for _, top := range []string{"cmd", "internal", "firmware-protocol"} {
		here := filepath.WalkDir(filepath.Join(root, top), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") {
				return err
			}
			fset := token.NewFileSet()
			f, err := parser.ParseFile(fset, path, nil, parser.ParseComments)
			if err != nil {
				return err
			}
			rel, err := filepath.Rel(root, path)
			all = append(all, source{filepath.ToSlash(rel), f, fset})
			return err
		})
		err = errors.Join(err, here)
	}
	return all, err
})

func (s *source) dir() string  { return s.path[:strings.LastIndex(s.path, "/")] }
func (s *source) isTest() bool { return strings.HasSuffix(s.path, "_test.go") }

// heavy are packages of the standard library that make the program much larger: templates keep every exported method
// in it, as they may be called by name, 3 MB; net/http brings TLS along, 2.9 MB (measured).
var heavy = []string{"text/template", "html/template", "net/http", "crypto/tls"}

func TestImports(t *testing.T) {
	for _, s := range sources(t) {
		if s.isTest() {
			continue
		}
		allowed, known := mayImport[s.dir()]
		if !known {
			t.Errorf("%s: package %s is not in the import table", s.path, s.dir())
			continue
		}
		for _, spec := range s.file.Imports {
			path, _ := strconv.Unquote(spec.Path.Value)
			name := strings.TrimPrefix(path, module+"internal/")
			if slices.Contains(heavy, path) && s.dir() != "internal/page/pagetest" { // which is for tests
				t.Errorf("%s imports %s, which makes the program much larger", s.path, path)
			}
			standard := !strings.Contains(strings.Split(path, "/")[0], ".") && name == path
			ok := standard || slices.ContainsFunc(allowed, func(a string) bool {
				return name == a ||
					strings.HasPrefix(name, a+"/")
			})
			if !ok {
				t.Errorf("%s imports %s, which the table does not allow", s.path, path)
			}
			if place, sole := soleUser[path]; sole && !strings.HasPrefix(s.path, place) {
				t.Errorf("%s imports %s, which is for %s alone", s.path, path, place)
			}
		}
	}
}

func TestOnePackageCommentEach(t *testing.T) {
	comments := map[string][]string{}
	for _, s := range sources(t) {
		if s.isTest() {
			continue
		}
		if _, ok := comments[s.dir()]; !ok {
			comments[s.dir()] = nil
		}
		if s.file.Doc != nil {
			comments[s.dir()] = append(comments[s.dir()], s.path)
		}
	}
	for dir, files := range comments {
		if len(files) != 1 {
			t.Errorf("%s has %d package comments, wants one: %v", dir, len(files), files)
		}
	}
}

// Lines hold at most maxLineColumns, a tab counting as four, but for raw strings.
func TestWidths(t *testing.T) {
	for _, s := range sources(t) {
		text, err := os.ReadFile(filepath.Join(root, s.path))
		if err != nil {
			t.Fatal(err)
		}
		raw := false
		for i, line := range strings.Split(string(text), "\n") {
			was := raw
			raw = raw != (strings.Count(line, "`")%2 == 1)
			n := utf8.RuneCountInString(strings.ReplaceAll(line, "\t", "    "))
			if n > maxLineColumns && !was && !raw {
				t.Errorf("%s:%d has %d columns, at most %d", s.path, i+1, n, maxLineColumns)
			}
		}
	}
}

func TestSizes(t *testing.T) {
	for _, s := range sources(t) {
		if n := s.fset.Position(s.file.End()).Line; n > maxFileLines {
			t.Errorf("%s has %d lines, at most %d", s.path, n, maxFileLines)
		}
		for _, d := range s.file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok {
				continue
			}
			from, to := s.fset.Position(f.Pos()).Line, s.fset.Position(f.End()).Line
			if n := to - from + 1; n > maxFuncLines {
				t.Errorf("%s: %s has %d lines, at most %d", s.path, f.Name.Name, n, maxFuncLines)
			}
		}
	}
}

// Everything exported is documented.
func TestExportedIsDocumented(t *testing.T) {
	for _, s := range sources(t) {
		if s.isTest() || strings.HasPrefix(s.path, "cmd/") {
			continue
		}
		for _, d := range s.file.Decls {
			switch d := d.(type) {
			case *ast.FuncDecl:
				if d.Name.IsExported() && d.Doc == nil && !isInterfaceMark(d) {
					t.Errorf("%s: %s has no comment", s.path, d.Name.Name)
				}
			case *ast.GenDecl:
				for _, spec := range d.Specs {
					if ts, ok := spec.(*ast.TypeSpec); ok && ts.Name.IsExported() && d.Doc == nil && ts.Doc == nil {
						t.Errorf("%s: %s has no comment", s.path, ts.Name.Name)
					}
				}
			}
		}
	}
}

// isInterfaceMark reports whether a method belongs to a well-known interface
// whose meaning needs no comment.
func isInterfaceMark(d *ast.FuncDecl) bool {
	return d.Recv != nil && slices.Contains([]string{"Error", "Unwrap", "String", "Read", "Write", "Close"},
		d.Name.Name)
}

func TestRoot(t *testing.T) {
	allowed := []string{"README.md", "DEVELOPERS.md", "LICENSE", "go.mod", "go.sum", "cmd", "firmware-protocol",
		"internal", "testdata", "hardware-notes"}
	entries, err := os.ReadDir(root)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), ".") && !slices.Contains(allowed, e.Name()) {
			t.Errorf("%s does not belong at the root", e.Name())
		}
	}
}
