package rules

import (
	"go/ast"
	"go/token"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// Packages whose constants are words that others compare with, and those that must do so by the
// constants: a word that is spelled again compiles when it is renamed, and goes silent.
var (
	wordsOf = []string{"internal/advice", "internal/balance", "internal/cycle", "internal/frame", "internal/mixture",
		"internal/raised", "internal/sensor", "internal/session"}
	bound = []string{"internal/balance", "internal/mixture", "internal/raised", "internal/screen", "internal/session",
		"internal/trial", "internal/view"}
)

func TestWordsAreComparedByTheirConstants(t *testing.T) {
	all := sources(t)
	words := map[string]bool{}
	for _, s := range all {
		if s.isTest() || !slices.Contains(wordsOf, s.dir()) {
			continue
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			if v, ok := n.(*ast.ValueSpec); ok && v.Type != nil && v.Names[0].Obj.Kind == ast.Con {
				for _, value := range v.Values {
					words[spelled(value)] = true
				}
			}
			return true
		})
	}
	delete(words, "")
	if len(words) < 80 {
		t.Fatalf("only %d words found", len(words))
	}
	for _, s := range all {
		if s.isTest() || !slices.Contains(bound, s.dir()) {
			continue
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			for _, e := range compared(n) {
				if words[spelled(e)] {
					t.Errorf("%s: %s is spelled; its constant is to be named", s.fset.Position(e.Pos()), spelled(e))
				}
			}
			return true
		})
	}
}

// makersOnly are packages that no mechanic meets, and one whose name is a mechanic's word too.
var makersOnly = []string{"fakeboard", "trial", "wine", "practice"}

// What goes wrong is read by a mechanic, to whom the name of a package says nothing: only what can't happen bears it.
func TestErrorsNameNoPackage(t *testing.T) {
	for _, s := range sources(t) {
		ast.Inspect(s.file, func(n ast.Node) bool {
			lit, ok := n.(*ast.BasicLit)
			name := s.file.Name.Name
			if ok && !s.isTest() && !slices.Contains(makersOnly, name) && strings.HasPrefix(lit.Value, `"`+name+": ") &&
				!strings.Contains(lit.Value, "internal error") {
				t.Errorf("%s: %s begins with its package", s.fset.Position(lit.Pos()), lit.Value)
			}
			return true
		})
	}
}

// compared returns what a node compares, looks up or switches on.
func compared(n ast.Node) []ast.Expr {
	switch n := n.(type) {
	case *ast.BinaryExpr:
		if n.Op == token.EQL || n.Op == token.NEQ {
			return []ast.Expr{n.X, n.Y}
		}
	case *ast.CaseClause:
		return n.List
	case *ast.KeyValueExpr:
		return []ast.Expr{n.Key}
	case *ast.IndexExpr:
		return []ast.Expr{n.Index}
	}
	return nil
}

// spelled returns the text of a string literal, "" of anything else.
func spelled(e ast.Expr) string {
	if lit, ok := e.(*ast.BasicLit); ok && lit.Kind == token.STRING {
		text, _ := strconv.Unquote(lit.Value)
		return text
	}
	return ""
}
