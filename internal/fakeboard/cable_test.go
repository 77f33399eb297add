package fakeboard

import (
	"bytes"
	"errors"
	"io/fs"
	"testing"
	"testing/synctest"
	"time"
)

// A cable keeps what fits, gives it in order, and is silent for a while before it says so.
func TestCable(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := NewCable("port")
		if _, err := c.Dial("other", 1); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("another path: %v", err)
		}
		end, err := c.Dial("port", 500_000)
		if err != nil {
			t.Fatal(err)
		}
		begun := time.Now()
		if dropped, err := c.Send(make([]byte, cableRoom+9)); dropped != 9 || err != nil ||
			time.Since(begun) != sendWait {
			t.Errorf("%d dropped, %v, after %v", dropped, err, time.Since(begun))
		}
		buf := make([]byte, 2*cableRoom)
		if n, err := end.Read(buf); n != cableRoom || err != nil {
			t.Errorf("%d bytes, %v", n, err)
		}
		begun = time.Now()
		if n, err := end.Read(buf); n != 0 || err != nil || time.Since(begun) != cableSilence {
			t.Errorf("%d bytes, %v after %v", n, err, time.Since(begun))
		}
		go c.Write([]byte("twice"))
		if n, err := end.Read(buf[:3]); n != 3 || err != nil || string(buf[:3]) != "twi" {
			t.Errorf("%q, %v", buf[:n], err)
		}
	})
}

// A cable that is pulled out says so at once at both ends; put back it is another port.
func TestCableUnplugged(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := NewCable("port")
		end, _ := c.Dial("port", 500_000)
		c.Send([]byte("read"))
		if n, err := end.Read(make([]byte, 9)); n != 4 || err != nil {
			t.Errorf("before: %d bytes, %v", n, err)
		}
		begun := time.Now()
		time.AfterFunc(7*time.Millisecond, c.Unplug)
		if _, err := end.Read(make([]byte, 9)); err != ErrUnplugged || time.Since(begun) != 7*time.Millisecond {
			t.Errorf("%v after %v", err, time.Since(begun))
		}
		if _, err := c.Send([]byte("x")); err != ErrUnplugged || c.Plugged() {
			t.Errorf("%v", err)
		}
		c.Plug()
		c.Send([]byte("lost with the cable"))
		end, _ = c.Dial("port", 500_000)
		c.Unplug()
		c.Plug()
		c.Send([]byte("x"))
		if n, err := end.Read(make([]byte, 9)); n != 0 || err != ErrUnplugged {
			t.Errorf("the old port: %d bytes, %v", n, err)
		}
		if end, _ = c.Dial("port", 500_000); end == nil {
			t.Fatal("no new port")
		}
		if n, err := end.Read(make([]byte, 9)); n != 1 || err != nil {
			t.Errorf("the new port: %d bytes, %v", n, err)
		}
	})
}

// A board's bytes come when its ticks say so; who reads none loses what the buffer has no room for,
// unless the pace is patient.
func TestCablePlays(t *testing.T) {
	const seconds = 2
	src := Steady("A1", 4, seconds*Rate+1).Bytes()
	for name, x := range map[string]struct {
		pace    Pace
		reads   bool
		dropped int
	}{
		"read":             {Pace{}, true, 0},
		"not read":         {Pace{}, false, len(src) - cableRoom},
		"read late, kept":  {Pace{Patient: true}, false, 0},
		"a clock too fast": {Pace{Clock: 1.02}, true, 0},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				c := NewCable("port")
				end, _ := c.Dial("port", 500_000)
				got := make(chan []byte)
				go func() {
					var all []byte
					if !x.reads {
						time.Sleep(3 * seconds * time.Second)
					}
					for buf := make([]byte, cableRoom); ; {
						n, err := end.Read(buf)
						if all = append(all, buf[:n]...); err != nil {
							got <- all
							return
						}
					}
				}()
				begun := time.Now()
				dropped := c.Play(t.Context(), bytes.NewReader(src), x.pace)
				took := time.Since(begun)
				time.Sleep(3 * seconds * time.Second) // all is read
				c.Unplug()
				if all := <-got; dropped != x.dropped || len(all) != len(src)-dropped || !bytes.HasPrefix(src, all) {
					t.Errorf("%d dropped, %d of %d bytes read", dropped, len(all), len(src))
				}
				want := time.Duration(seconds / max(x.pace.Clock, 1) * float64(time.Second))
				if x.reads && (took-want).Abs() > time.Microsecond {
					t.Errorf("took %v, want %v", took, want)
				}
			})
		})
	}
}
