//go:build linux

package cli

import (
	"bufio"
	"bytes"
	"context"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/fakeboard"
	"evendraw/internal/page/pagetest"
)

// mostPageShare of a core is what ten browsers may take, and mostPageMemory what they may hold.
const (
	mostPageShare  = 2.0      // per cent
	mostPageMemory = 20 << 10 // kB
)

// Ten browsers cost the program little.
func TestQuietPageCost(t *testing.T) {
	t.Parallel()
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		// Of a board, as a practice run ends when its bank is level; beforehand, as it needs no computer.
		rec := named(fakeboard.FromEngine(idlingEngine(), 40, nil)).Bytes()
		l := fakeboard.NewLine(t)
		play(t, l, bytes.NewReader(rec), fakeboard.Pace{})
		cmd := exec.Command(binary, "live", "--port", l.Path, "--headless", "--page=127.0.0.1:0")
		cmd.Env = append(os.Environ(), "EVENDRAW_GARAGE="+t.TempDir())
		said, err := cmd.StderrPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		defer func() {
			cmd.Process.Kill()
			cmd.Wait()
		}()
		url := ""
		for lines := bufio.NewScanner(said); url == "" && lines.Scan(); {
			url = pageAddress.FindString(lines.Text())
		}
		time.Sleep(3 * time.Second) // it has begun
		p := &onPTY{t: t, cmd: cmd}
		share := func(long time.Duration) float64 {
			begun := p.processor()
			time.Sleep(long)
			return 100 * (p.processor() - begun) / long.Seconds()
		}
		alone, held := share(10*time.Second), memory(t, cmd.Process.Pid)
		ctx, stop := context.WithCancel(t.Context())
		var looking sync.WaitGroup
		for range 10 {
			looking.Go(func() {
				pagetest.Look(ctx, &http.Client{Transport: &http.Transport{}}, url, func(pagetest.Event) {})
			})
		}
		looked := share(10 * time.Second)
		more := memory(t, cmd.Process.Pid) - held
		stop()
		looking.Wait()
		return []effort.Figure{{Name: "ten browsers' share of a core", Got: looked - alone, Limit: mostPageShare,
			Unit: "%"},
			{Name: "their memory", Got: more, Limit: mostPageMemory, Unit: "kB"}}
	})
}

// memory is what a process holds, in kB.
func memory(t *testing.T, pid int) float64 {
	t.Helper()
	_, rest, _ := strings.Cut(read(t, filepath.Join("/proc", strconv.Itoa(pid), "status")), "VmRSS:")
	kB, err := strconv.ParseFloat(strings.Fields(rest)[0], 64)
	if err != nil {
		t.Fatal(err)
	}
	return kB
}
