package garage

import (
	"evendraw/internal/card"
	"evendraw/internal/store"
)

// parseCard reads the text of a card with of, which is asked only when the card's format is known.
func parseCard[T any](path string, text []byte, of func(t card.Table) T) (c *card.Card, v T, err error) {
	if c, err = card.Parse(text); err == nil {
		t := c.Root()
		if t.Format(newestFormat); !t.Failed() {
			v = of(t)
		}
		err = c.Err()
	}
	if err != nil {
		var none T
		return nil, none, store.AsError(path, err)
	}
	return c, v, nil
}

// edited returns a card's text with ops done to it. Of must still be able to read it.
func edited[T any](path string, c *card.Card, of func(t card.Table) T, ops []card.Op) ([]byte, error) {
	text, err := c.Edit(ops...)
	if err == nil {
		_, _, err = parseCard(path, text, of)
	}
	if err != nil {
		return nil, store.NotSaved(path, err)
	}
	return text, nil
}

// ofNoFile returns the error of a card that is yet to be: without a line, as there is no file to look at.
func ofNoFile(err error) error {
	e := *store.AsError("", err)
	e.Line = 0
	return &e
}
