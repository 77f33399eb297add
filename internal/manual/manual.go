// Package manual writes manual pages, one a verb, from the tree of commands.
package manual

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// Date returns the date for pages that are the same each time: that of SOURCE_DATE_EPOCH, in
// seconds since 1970; without it the zero time, and the pages bear no date.
func Date(epoch string) (time.Time, error) {
	if epoch == "" {
		return time.Time{}, nil
	}
	seconds, err := strconv.ParseInt(epoch, 10, 64)
	if err != nil {
		return time.Time{}, fmt.Errorf("SOURCE_DATE_EPOCH: %w", err)
	}
	return time.Unix(seconds, 0).UTC(), nil
}

// Write writes a page for root and for each verb below it that is not hidden into a folder, which
// is made if need be. The pages bear the month of a date, of the zero time none.
func Write(root *cobra.Command, folder string, at time.Time) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	root.InitDefaultCompletionCmd()
	return writeTree(root, folder, at)
}

func writeTree(c *cobra.Command, folder string, at time.Time) error {
	for _, below := range verbs(c) {
		if err := writeTree(below, folder, at); err != nil {
			return err
		}
	}
	return os.WriteFile(filepath.Join(folder, pageName(c)+".1"), []byte(page(c, at)), 0o644)
}

// verbs are the commands below one that have a page.
func verbs(c *cobra.Command) (shown []*cobra.Command) {
	for _, below := range c.Commands() {
		if below.IsAvailableCommand() && !below.IsAdditionalHelpTopicCommand() {
			shown = append(shown, below)
		}
	}
	return shown
}

func pageName(c *cobra.Command) string { return strings.ReplaceAll(c.CommandPath(), " ", "-") }

// month is what a page shows of a date, "" of none.
func month(at time.Time) string {
	if at.IsZero() {
		return ""
	}
	return at.Format("Jan 2006")
}

// page returns a command's page in roff, with the macros of man(7).
func page(c *cobra.Command, at time.Time) string {
	c.InitDefaultHelpFlag()
	r := &roff{}
	root := c.Root()
	r.linef(`.TH "%s" "1" "%s" "%s %s" "%[3]s"`, strings.ToUpper(escape(pageName(c))), month(at),
		root.Name(), escape(root.Version))
	r.linef(".nh\n.ad l") // words stay whole, for who looks for them
	r.linef(".SH NAME\n%s \\- %s", escape(pageName(c)), escape(c.Short))
	use := strings.TrimPrefix(c.UseLine(), c.CommandPath())
	r.linef(".SH SYNOPSIS\n%s%s", bold(c.CommandPath()), escape(use))
	r.linef(".SH DESCRIPTION")
	if c.Long == "" {
		r.text(c.Short + ".")
	}
	r.text(c.Long)
	r.flags("OPTIONS", c.NonInheritedFlags())
	r.flags("OPTIONS OF ALL VERBS", c.InheritedFlags())
	if c.Example != "" {
		r.linef(".SH EXAMPLES")
		r.text(c.Example)
	}
	near := verbs(c)
	if c.HasParent() {
		near = append([]*cobra.Command{c.Parent()}, near...)
	}
	for i, n := range near {
		if i == 0 {
			r.linef(".SH SEE ALSO")
		}
		r.linef(".BR %s (1)", escape(pageName(n)))
	}
	return r.String()
}

// roff is a page that is being written.
type roff struct{ strings.Builder }

func (r *roff) linef(format string, args ...any) { fmt.Fprintf(r, format+"\n", args...) }

// text writes paragraphs. Lines that are indented stay as they are.
func (r *roff) text(s string) {
	kept := false
	for line := range strings.Lines(s) {
		line = strings.TrimRight(line, "\n")
		if indented := strings.TrimLeft(line, " \t") != line; indented != kept {
			r.linef(map[bool]string{true: ".nf", false: ".fi"}[indented])
			kept = indented
		}
		if line == "" {
			r.linef(".PP")
			continue
		}
		r.linef("%s", escape(line))
	}
	if kept {
		r.linef(".fi")
	}
}

// plain are the defaults of which there is nothing to say.
var plain = []string{"", "false", "0", "0s", "[]"}

// flags writes a section of options, if there are any.
func (r *roff) flags(section string, set *pflag.FlagSet) {
	if !set.HasAvailableFlags() {
		return
	}
	r.linef(".SH %s", section)
	set.VisitAll(func(f *pflag.Flag) {
		if f.Hidden || f.Deprecated != "" {
			return
		}
		value, usage := pflag.UnquoteUsage(f)
		name := bold("--" + f.Name)
		if f.Shorthand != "" {
			name = bold("-"+f.Shorthand) + ", " + name
		}
		if value != "" {
			name += ` \fI` + escape(value) + `\fP`
		}
		if !slices.Contains(plain, f.DefValue) {
			usage += " (default " + f.DefValue + ")"
		}
		r.linef(".TP\n%s\n%s", name, escape(usage))
	})
}

func bold(s string) string { return `\fB` + escape(s) + `\fP` }

// escape returns one line of text as roff that shows it; hyphens stay what can be typed.
func escape(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`).Replace(s)
	if strings.HasPrefix(s, ".") || strings.HasPrefix(s, "'") {
		return `\&` + s
	}
	return s
}
