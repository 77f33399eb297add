package garage

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode"
	"unicode/utf8"

	"evendraw/internal/card"
	"evendraw/internal/plain"
	"evendraw/internal/store"
)

// maxNameRunes bounds the name of a bike. Chosen.
const maxNameRunes = 500

// cleanName returns a bike's name with single spaces inside and none around it, and says what is wrong with it.
func cleanName(name string) (clean, problem string) {
	clean = strings.Join(strings.FieldsFunc(name, func(r rune) bool { return unicode.IsSpace(r) && !plain.Steers(r) }),
		" ")
	switch {
	case clean == "":
		return "", "a bike needs a name"
	case !utf8.ValidString(clean):
		return "", "the name is not UTF-8 text"
	case utf8.RuneCountInString(clean) > maxNameRunes:
		return "", fmt.Sprintf("the name is longer than %d letters", maxNameRunes)
	}
	return clean, card.TextProblem(clean, len(clean))
}

// BikePaths returns the places of a bike's files. Names that differ only in the case of letters are
// one bike. A bike without a card has places too: those that NewBike would choose. A folder that
// was renamed by hand is found by the name on the card in it.
func (g *Garage) BikePaths(bike string) (BikePaths, error) {
	name, problem := cleanName(bike)
	if problem != "" {
		return BikePaths{}, &Error{Field: "name", Problem: problem}
	}
	p := g.bikePaths(store.FolderName(name))
	b, err := readBike(p.Card)
	if err == nil && b.Name == name || err != nil && !errors.Is(err, fs.ErrNotExist) {
		return p, nil // LoadBike tells what is wrong with the card
	}
	var same, alike []BikePaths
	all, _ := g.allPaths()
	for _, q := range all {
		switch b, err := readBike(q.Card); {
		case err != nil:
		case b.Name == name:
			same = append(same, q)
		case strings.EqualFold(b.Name, name):
			alike = append(alike, q)
		}
	}
	if len(same) == 0 {
		same = alike
	}
	switch {
	case len(same) == 1:
		return same[0], nil
	case len(same) > 1:
		return BikePaths{}, &Error{Path: same[0].Card, Field: "name",
			Problem: fmt.Sprintf("%q is also the name on the card in %s; change one of them", name,
				filepath.Base(same[1].Dir))}
	}
	// The place may be taken by a bike that was renamed on its card.
	for n := 2; err == nil; n++ {
		p = g.bikePaths(fmt.Sprintf("%s+%d", store.FolderName(name), n))
		_, err = os.Lstat(p.Card)
	}
	return p, nil
}

// boardFile returns the name of a board card. Serials that differ only in the case of letters must not meet where the
// file system takes them for one, nor one that Windows keeps for a device: a serial with capitals is followed by + and,
// in hexadecimal, the sum of 1 for its first letter if it is a capital, 2 for the second, 4 for the third, and so on.
func boardFile(serial string) (string, error) {
	if serial == "" || len(serial) > maxSerialBytes {
		return "", problem("", "serial", "%q is not of 1 to %d characters", serial, maxSerialBytes)
	}
	var capitals, bit uint64 = 0, 1
	for _, r := range serial {
		switch {
		case r >= 'A' && r <= 'Z':
			capitals |= bit
			bit <<= 1
		case r >= 'a' && r <= 'z':
			bit <<= 1
		case !strings.ContainsRune("0123456789-_", r):
			return "", problem("", "serial", "%q has characters outside 0-9 A-Z a-z - _", serial)
		}
	}
	if capitals == 0 && !store.IsReserved(serial) {
		return serial + cardEnding, nil
	}
	return fmt.Sprintf("%s+%x%s", serial, capitals, cardEnding), nil
}

// maxSerialBytes is that of the protocol, and fits the bits of boardFile.
const maxSerialBytes = 32

// BoardPath returns the place of a board's card.
func (g *Garage) BoardPath(serial string) (string, error) {
	name, err := boardFile(serial)
	return filepath.Join(g.Paths().Boards, name), err
}
