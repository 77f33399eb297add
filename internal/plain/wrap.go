package plain

import (
	"regexp"
	"strings"
	"unicode/utf8"
)

// Wrap breaks a text between words into lines of at most so many letters, where words allow, each indented as the line
// that it is of; lines that there are already stay. What may be pasted as it stands is not broken: what stands in
// double quotes, a path, and a command that has a line of its own, indented.
func Wrap(text string, letters int) string {
	var out strings.Builder
	for i, line := range strings.Split(text, "\n") {
		if i > 0 {
			out.WriteByte('\n')
		}
		indent := line[:len(line)-len(strings.TrimLeft(line, " "))]
		for utf8.RuneCountInString(line) > letters {
			end := len(string([]rune(line)[:letters+1]))
			at := breakAt(line, end)
			if at < 0 {
				break
			}
			out.WriteString(line[:at] + "\n")
			line = indent + line[at+1:]
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
	if strings.HasPrefix(line, command) {
		return nil
	}
	from, to := path(line, 0)
	quoted, inWords := false, false
	pairs := strings.Count(line, `"`)%2 == 0
	for i := range len(line) {
		if i == to && from < to {
			from, to = path(line, to)
		}
		switch {
		case from <= i && i < to:
			inWords = true
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

// path is where the next path of a line from a place on begins and ends; both the line's end for none. A path may hold
// blanks: it ends at a mark or bracket before a blank, and where its last name has an ending, or is a device's, at the
// blank; else as unmarked says.
func path(line string, from int) (begin, end int) {
	at := pathBegins.FindStringSubmatchIndex(line[from:])
	if at == nil {
		return len(line), len(line)
	}
	begin = from + at[2]
	ends := nameEnds
	if strings.HasPrefix(line[begin:], "/dev/") {
		ends = deviceEnds
	}
	if at := ends.FindStringSubmatchIndex(line[begin:]); at != nil {
		return begin, begin + at[2]
	}
	return begin, begin + unmarked(line[begin:])
}

// nameWords is how many words behind a path that nothing ends may be of its last name, which may hold blanks; more are
// of the sentence. Chosen.
const nameWords = 2

// unmarked is the length of a path that a text begins with and nothing ends: up to the next path or the text's end,
// but not through words that are hardly of its last name.
func unmarked(text string) int {
	end := len(text)
	if next := pathBegins.FindStringIndex(text[1:]); next != nil && next[0] > 0 {
		end = 1 + next[0]
	}
	last := strings.LastIndexAny(text[:end], `/\`)
	name := last + strings.IndexByte(text[last:end]+" ", ' ')
	if len(strings.Fields(text[name:end])) > nameWords {
		return name
	}
	return end
}

// pathBegins finds a path of any platform; nameEnds and deviceEnds the blank behind one.
var (
	pathBegins = regexp.MustCompile(`(?:^| )((?:/|[A-Z]:\\|\\\\)[^ ])`)
	nameEnds   = regexp.MustCompile(`(?:[,:;)]|\.[A-Za-z]{2,7})( )`)
	deviceEnds = regexp.MustCompile(`( )`)
)
