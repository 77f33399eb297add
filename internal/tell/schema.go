package tell

import _ "embed"

// Schema is the JSON Schema of readings, summaries, records and the words of advice.
//
//go:embed schema.json
var Schema []byte
