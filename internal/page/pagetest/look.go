package pagetest

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"time"
)

// Event is what the tests want to know of a picture.
type Event struct {
	Big, Amount, Role string
	Way               int
	Say               []string
	Lanes             []struct{ Label, Difference, Fault string }
	Voice             Voice
}

// Voice is what is to be spoken.
type Voice struct {
	Number    uint64
	Cue, Text string
	Way       int
	Cut       bool
}

// Look takes the events of the page at url until ctx or the stream ends, and says each second that it
// sees, as the page does.
func Look(ctx context.Context, c *http.Client, url string, on func(Event)) error {
	answer, err := ask(ctx, c, http.MethodGet, url+"/live")
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		return fmt.Errorf("status %d", answer.StatusCode)
	}
	you, kind, seen := "", "", time.Time{}
	for lines := bufio.NewScanner(answer.Body); lines.Scan(); {
		name, value, _ := strings.Cut(lines.Text(), ": ")
		switch {
		case name == "":
			kind = ""
		case name == "event":
			kind = value
		case name == "data" && kind == "you":
			you = value
		case name == "data":
			var e Event
			if err := json.Unmarshal([]byte(value), &e); err != nil {
				return err
			}
			on(e)
			if time.Since(seen) > time.Second {
				seen = time.Now()
				if a, err := ask(ctx, c, http.MethodHead, url+"/seen?you="+you); err == nil {
					a.Body.Close()
				}
			}
		}
	}
	return ctx.Err()
}

func ask(ctx context.Context, c *http.Client, method, url string) (*http.Response, error) {
	r, err := http.NewRequestWithContext(ctx, method, url, nil)
	if err != nil {
		return nil, err
	}
	return c.Do(r)
}
