package fakeboard

import (
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
		if dropped, err := c.Send(make([]byte, cableRoom+9)); dropped != 9 || err != nil || time.Since(begun) != sendWait {
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
		begun := time.Now()
		time.AfterFunc(7*time.Millisecond, c.Unplug)
		if _, err := end.Read(make([]byte, 9)); err != ErrUnplugged || time.Since(begun) != 7*time.Millisecond {
			t.Errorf("%v after %v", err, time.Since(begun))
		}
		if _, err := c.Send([]byte("x")); err != ErrUnplugged || c.Plugged() {
			t.Errorf("%v", err)
		}
		c.Plug()
		c.Send([]byte("x"))
		if n, err := end.Read(make([]byte, 9)); n != 0 || err != ErrUnplugged {
			t.Errorf("the old port: %d bytes, %v", n, err)
		}
	})
}
