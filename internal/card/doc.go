// Package card reads and edits cards: TOML texts that people edit by hand as well. It knows no bikes and no files.
//
// What comes in: a text. What goes out: its values, each checked as it is read, or an Error with the line and the key
// of the first that is wrong; and, after an edit, the same text but for what was to change. Begin with Parse. Then
//
//	t := c.Root()
//	name, n := t.Text("name", 100), t.Whole("cylinders")
//	err := c.Err() // of the first wrong value
//
//	text, err := c.Edit(card.Set("zero", "ambient_kpa", "98.7"), card.Append("[[older]]", fields))
//
// Edit changes letters only where it must: remarks, order, unknown keys and line ends stay. Its
// result is parsed again and compared with what the values should be then; an edit that would
// change anything else is refused with ErrUnverified. Fill makes the text of a new card.
//
// TOML is read with github.com/pelletier/go-toml/v2: people make mistakes, so they need a well-kept
// parser that knows the line of everything it reads. Where keys stand is told by a part of it that
// its makers may still change (see finder); the comparison would notice.
package card
