package garage

import (
	"math"

	"evendraw/internal/card"
)

// keptPasses is how many passes of a kind are kept beside the last.
const keptPasses = 5

// passKind is a kind of pass that a board card keeps: the last as [NAME], those before it as
// [[previous_NAME]] at the end of the file.
type passKind[T any] struct {
	name   string
	one    func(t card.Table) *T
	fields func(*T) []card.Field
}

var (
	zeroPasses  = passKind[ZeroCard]{"zero", readZero, zeroFields}
	matchPasses = passKind[MatchCard]{"match", readMatch, matchFields}
)

func (k passKind[T]) previous() string { return "previous_" + k.name }

// read returns the last pass, nil if there is none, and those before it, the oldest first.
func (k passKind[T]) read(t card.Table) (last *T, before []*T) {
	if t.Has(k.name) {
		if inner, ok := t.Inner(k.name); ok {
			last = k.one(inner)
		}
	}
	for _, old := range t.Tables(k.previous(), math.MaxInt) {
		before = append(before, k.one(old))
	}
	return last, before
}

// section returns a pass as a table under that header.
func (k passKind[T]) section(header string, p *T) string {
	return card.Section(header, k.fields(p), "\n")
}

// put returns what puts a pass on a card. The one that was there goes to the end of the file, where
// the last keptPasses are kept.
func (k passKind[T]) put(p *T) func(c *card.Card) []card.Op {
	return func(c *card.Card) (ops []card.Op) {
		last, before := k.read(c.Root())
		if last == nil {
			return []card.Op{card.Append("["+k.name+"]", k.fields(p))}
		}
		for _, f := range k.fields(p) {
			ops = append(ops, card.Set(k.name, f[0], f[1]))
		}
		return append(ops, card.DropFirst(k.previous(), len(before)+1-keptPasses),
			card.Append("[["+k.previous()+"]]", k.fields(last)))
	}
}
