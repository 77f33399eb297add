// Package tell holds every text and every line of JSON that is not the live screen: readings, passes, checkups,
// summaries, cards, records and bench cards, as people and as programs read them.
//
// What comes in is data of the packages below; what goes out is text, to a writer or as lines.
// Package plain has the one date, the one dash, the one unknown and the one sanitiser; package view
// has the words of the live screen, some of which are told here as well.
//
// Begin with reading_json.go for the lines of JSON, with records.go for what a person reads. A file is named
// after what it tells of; those that end in _json are for programs, and schema.json is their schema.
package tell
