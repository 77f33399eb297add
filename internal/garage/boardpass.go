package garage

import (
	"fmt"
	"math"
	"strings"
)

// keptPasses is how many passes of a kind are kept beside the last.
const keptPasses = 5

// passKind is a kind of pass that a board card keeps: the last as [NAME], those before it as
// [[previous_NAME]] at the end of the file.
type passKind[T any] struct {
	name   string
	one    func(t table) *T
	fields func(*T) []keyValue
}

var (
	zeroPasses  = passKind[ZeroCard]{"zero", readZero, zeroFields}
	matchPasses = passKind[MatchCard]{"match", readMatch, matchFields}
)

func (k passKind[T]) previous() string { return "previous_" + k.name }

// read returns the last pass, nil if there is none, and those before it, the oldest first.
func (k passKind[T]) read(t table) (last *T, before []*T) {
	if t.has(k.name) {
		v, ok := t.values[k.name].(map[string]any)
		if _, known := t.doc.places[k.name]; !ok || !known {
			t.fail(k.name, "is to be written as a [%s] table", k.name)
		} else {
			last = k.one(table{t.doc, k.name, " of " + k.name, v})
		}
	}
	for _, old := range t.tables(k.previous(), math.MaxInt) {
		before = append(before, k.one(old))
	}
	return last, before
}

// section returns a pass as a table under that header.
func (k passKind[T]) section(header string, p *T, newline string) string {
	var b strings.Builder
	b.WriteString(header + newline)
	for _, f := range k.fields(p) {
		b.WriteString(f.key + " = " + f.value + newline)
	}
	return b.String()
}

// sections returns what cards would say of passes.
func (k passKind[T]) sections(passes []*T) (text string) {
	for _, p := range passes {
		text += k.section("", p, "\n")
	}
	return text
}

// save puts a pass on the card of fresh. The one that was there goes to the end of the file, where
// the last keptPasses are kept; everything else stays as it is. Of fresh, only the serial counts
// when there is a card; otherwise one is made of it.
func (k passKind[T]) save(g *Garage, fresh *Board, p *T) error {
	if fresh.SupplyMV == 0 {
		fresh.SupplyMV = defaultSupplyMV
	}
	text, path, err := g.newBoardText(fresh)
	if err != nil {
		return err
	}
	if _, err := g.LoadBoard(fresh.Serial); err != nil {
		return err
	}
	return g.edit(path, func(old []byte) ([]byte, error) {
		if old == nil {
			return text, nil
		}
		return k.with(path, old, p)
	})
}

// with returns the card's text with another pass.
func (k passKind[T]) with(path string, text []byte, p *T) ([]byte, error) {
	d, _, err := parseBoard(path, text)
	if err != nil {
		return nil, err
	}
	last, _ := k.read(d.root())
	nl := d.newline()
	var changes []change
	var end string
	if last == nil {
		end = nl + k.section("["+k.name+"]", p, nl)
	} else {
		for _, f := range k.fields(p) {
			if c, differs := d.set(k.name, f.key, f.value); differs {
				changes = append(changes, c)
			}
		}
		changes = append(changes, k.drop(d)...)
		end = nl + k.section("[["+k.previous()+"]]", last, nl)
	}
	if n := len(text); n > 0 && text[n-1] != '\n' {
		end = nl + end
	}
	changed := d.applied(append(changes, change{len(text), len(text), end}))
	return changed, k.verify(d, changed, p)
}

// drop returns the changes that take away the oldest of the previous passes, so that there is room
// for one more.
func (k passKind[T]) drop(d *doc) (changes []change) {
	n := len(d.root().tables(k.previous(), math.MaxInt))
	for i := range n + 1 - keptPasses {
		p, ok := d.places[fmt.Sprintf("%s[%d]", k.previous(), i)]
		if !ok || p.inline {
			continue
		}
		end := d.after(p.end, "").from
		for _, nl := range []string{"\n", "\r\n"} {
			if rest := string(d.text[end:min(end+2, len(d.text))]); len(rest) >= len(nl) && rest[:len(nl)] == nl {
				end += len(nl)
				break
			}
		}
		changes = append(changes, change{p.start, end, ""})
	}
	return changes
}

// verify makes sure that the changed text says what d said, but with the new pass, and the old one
// among the previous.
func (k passKind[T]) verify(d *doc, changed []byte, p *T) error {
	after, _, err := parseBoard(d.path, changed)
	if err != nil {
		return notSaved(d.path, fmt.Errorf("%w: %w", errUnverified, err))
	}
	last, want := k.read(d.root())
	if last != nil {
		want = append(want, last)
	}
	want = want[max(0, len(want)-keptPasses):]
	now, got := k.read(after.root())
	rest := func(tree map[string]any) map[string]any {
		delete(tree, k.previous())
		table, _ := tree[k.name].(map[string]any)
		for _, f := range k.fields(p) {
			delete(table, f.key)
		}
		if len(table) == 0 {
			delete(tree, k.name)
		}
		return tree
	}
	if k.sections(got) != k.sections(want) || k.sections([]*T{now}) != k.sections([]*T{p}) || !sameTree(rest(d.tree), rest(after.tree)) {
		return notSaved(d.path, errUnverified)
	}
	return nil
}
