package plain

import (
	"regexp"
	"strings"
	"unicode/utf8"
)

// Wrap breaks a text between words into lines of at most so many letters, where words allow; lines that there are
// already stay. What may be pasted as it stands is not broken: what stands in double quotes, a path at a line's end,
// and a command that has a line of its own, indented.
func Wrap(text string, letters int) string {
	var out strings.Builder
	for i, line := range strings.Split(text, "\n") {
		if i > 0 {
			out.WriteByte('\n')
		}
		for utf8.RuneCountInString(line) > letters {
			end := len(string([]rune(line)[:letters+1]))
			at := breakAt(line, end)
			if at < 0 {
				break
			}
			out.WriteString(line[:at] + "\n")
			line = line[at+1:]
		}
		out.WriteString(line)
	}
	return out.String()
}

// breakAt is the space at which a line is broken: the last before end that may be, else the first after it; -1 for
// none. What stands before the first word is no line.
func breakAt(line string, end int) int {
	spaces := breaks(line)
	at := -1
	for _, s := range spaces {
		if s >= end && at >= 0 {
			break
		}
		at = s
		if s >= end {
			break
		}
	}
	return at
}

// breaks are the spaces of a line at which it may be broken.
func breaks(line string) (spaces []int) {
	firm := len(line)
	if strings.HasPrefix(line, command) {
		return nil
	}
	if path := pathAtEnd.FindStringIndex(line); path != nil && !strings.Contains(line[path[0]:], ": ") &&
		!strings.Contains(line[path[0]:], "; ") {
		firm = path[0] + 1
	}
	quoted, inWords := false, false
	pairs := strings.Count(line, `"`)%2 == 0
	for i := range firm {
		switch {
		case line[i] == '"' && pairs:
			quoted, inWords = !quoted, true
		case line[i] != ' ':
			inWords = true
		case inWords && !quoted:
			spaces = append(spaces, i)
		}
	}
	return spaces
}

// command begins the line of a command.
const command = "  evendraw "

// pathAtEnd finds a path of any platform, and the space before it.
var pathAtEnd = regexp.MustCompile(`(?:^| )(?:/|[A-Z]:\\|\\\\)[^ ]`)
