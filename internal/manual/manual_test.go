package manual

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// someRoot is a program of all that a page can hold.
func someRoot() *cobra.Command {
	run := func(*cobra.Command, []string) {}
	root := &cobra.Command{Use: "kettle", Short: "Boil water", Version: "1.2.0", Run: run}
	root.PersistentFlags().Bool("quiet", false, "no whistle")
	boil := &cobra.Command{Use: "boil CUPS", Short: "Boil some cups", Run: run,
		Example: "  kettle boil 2\n  kettle boil 'C:\\pot' --until 96.5",
		Long: "Boil as many cups as wanted. Kinds of\nwater:\n  soft   of rain\n  hard   of chalk\n\n" +
			".Dots and\n'quotes may begin a line."}
	boil.Flags().Float64P("until", "u", 100, "the `heat` in degrees")
	boil.Flags().String("spout", "", "where it pours")
	boil.Flags().Bool("secret", false, "unseen")
	boil.Flags().MarkHidden("secret")
	root.AddCommand(boil, &cobra.Command{Use: "hidden", Hidden: true, Run: run},
		&cobra.Command{Use: "topic", Short: "no verb"})
	return root
}

func written(t *testing.T) map[string]string {
	t.Helper()
	folder := filepath.Join(t.TempDir(), "deep", "man1")
	at, err := Date("1700000000")
	if err != nil {
		t.Fatal(err)
	}
	if err := Write(someRoot(), folder, at); err != nil {
		t.Fatal(err)
	}
	pages := map[string]string{}
	entries, _ := os.ReadDir(folder)
	for _, e := range entries {
		text, _ := os.ReadFile(filepath.Join(folder, e.Name()))
		pages[e.Name()] = string(text)
	}
	return pages
}

const boilPage = `.TH "KETTLE\-BOIL" "1" "Nov 2023" "kettle 1.2.0" "kettle"
.nh
.ad l
.SH NAME
kettle\-boil \- Boil some cups
.SH SYNOPSIS
\fBkettle boil\fP CUPS [flags]
.SH DESCRIPTION
Boil as many cups as wanted. Kinds of
water:
.nf
  soft   of rain
  hard   of chalk
.fi
.PP
\&.Dots and
\&'quotes may begin a line.
.SH OPTIONS
.TP
\fB\-h\fP, \fB\-\-help\fP
help for boil
.TP
\fB\-\-spout\fP \fIstring\fP
where it pours
.TP
\fB\-u\fP, \fB\-\-until\fP \fIheat\fP
the heat in degrees (default 100)
.SH OPTIONS OF ALL VERBS
.TP
\fB\-\-quiet\fP
no whistle
.SH EXAMPLES
.nf
  kettle boil 2
  kettle boil 'C:\epot' \-\-until 96.5
.fi
.SH SEE ALSO
.BR kettle (1)
`

func TestWrite(t *testing.T) {
	pages := written(t)
	if got := pages["kettle-boil.1"]; got != boilPage {
		t.Errorf("got:\n%s", got)
	}
	for _, name := range []string{"kettle.1", "kettle-completion.1", "kettle-completion-bash.1"} {
		if pages[name] == "" {
			t.Errorf("no %s", name)
		}
	}
	if pages["kettle-hidden.1"] != "" || pages["kettle-topic.1"] != "" {
		t.Error("a page too many")
	}
	if !strings.Contains(pages["kettle.1"], ".BR kettle\\-boil (1)") {
		t.Errorf("got:\n%s", pages["kettle.1"])
	}
	for name, again := range written(t) {
		if pages[name] != again {
			t.Errorf("%s differs from time to time", name)
		}
	}
}

// What reads manual pages has nothing to say against them.
func TestGroff(t *testing.T) {
	if _, err := exec.LookPath("groff"); err != nil {
		t.Skip("groff is missing")
	}
	for name, page := range written(t) {
		cmd := exec.Command("groff", "-man", "-Tutf8", "-ww", "-z", "-k")
		var complaints bytes.Buffer
		cmd.Stdin, cmd.Stderr = strings.NewReader(page), &complaints
		if err := cmd.Run(); err != nil || complaints.Len() > 0 {
			t.Errorf("%s: %v %s", name, err, &complaints)
		}
	}
}

func TestDate(t *testing.T) {
	if at, err := Date(""); err != nil || month(at) != "" {
		t.Errorf("%v %v", at, err)
	}
	if at, err := Date("1700000000"); err != nil || month(at) != "Nov 2023" { // date -u -d @1700000000
		t.Errorf("%v %v", at, err)
	}
	if _, err := Date("today"); err == nil {
		t.Error("a date that is none is taken")
	}
}
