package page

// What tests from outside want to know.
const (
	MostUnseen = mostUnseen
	MostConns  = mostConns
)
