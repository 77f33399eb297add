package page

import (
	"net"
	"slices"
	"sync"
)

// mostConns is how many connections there may be. Chosen: sixteen browsers with six each, and twice
// that; and far fewer than the files that a program may have open.
const mostConns = 256

// sendBuffer is what the system may hold for a browser, in bytes: some pictures, so that one that
// takes none is seen soon. Chosen.
const sendBuffer = 16 << 10

// conns are the connections of a listener. Where there are too many, the oldest goes on which no
// pictures are sent: whoever opens connections and says nothing keeps nobody out.
type conns struct {
	listener net.Listener
	mu       sync.Mutex // guards all and what its elements keep
	open     []*conn
	closed   bool
}

type conn struct {
	net.Conn
	of   *conns
	kept bool
}

// accept takes the next connection.
func (l *conns) accept() (*conn, error) {
	c, err := l.listener.Accept()
	if err != nil {
		return nil, err
	}
	if tcp, ok := c.(*net.TCPConn); ok {
		tcp.SetWriteBuffer(sendBuffer) // only a size
	}
	own := &conn{Conn: c, of: l}
	l.mu.Lock()
	l.open = append(l.open, own)
	ended := l.closed
	var oldest *conn
	if len(l.open) > mostConns {
		if i := slices.IndexFunc(l.open, func(c *conn) bool { return !c.kept }); i >= 0 {
			oldest = l.open[i]
		}
	}
	l.mu.Unlock()
	if oldest != nil {
		oldest.Close()
	}
	if ended {
		own.Close()
		return nil, net.ErrClosed
	}
	return own, nil
}

// close ends the listener and all connections.
func (l *conns) close() error {
	err := l.listener.Close()
	l.mu.Lock()
	l.closed = true
	open := slices.Clone(l.open)
	l.mu.Unlock()
	for _, c := range open {
		c.Close()
	}
	return err
}

// Close closes the connection, and forgets it.
func (c *conn) Close() error {
	c.of.mu.Lock()
	if i := slices.Index(c.of.open, c); i >= 0 {
		c.of.open = slices.Delete(c.of.open, i, i+1)
	}
	c.of.mu.Unlock()
	return c.Conn.Close()
}

// keep keeps a connection from being closed for a newer one.
func (c *conn) keep() {
	c.of.mu.Lock()
	c.kept = true
	c.of.mu.Unlock()
}
