package capture

import (
	"context"
	"io"
)

// Piped reads what may keep its reader waiting, or whoever opens it, in a goroutine of its own, so that ctx can
// end the wait.
func Piped(ctx context.Context, open func() (io.ReadCloser, error)) io.ReadCloser {
	r, w := io.Pipe()
	end := context.AfterFunc(ctx, func() { w.CloseWithError(context.Cause(ctx)) })
	go func() {
		defer end()
		f, err := open()
		if err == nil {
			_, err = io.Copy(w, f)
			f.Close()
		}
		w.CloseWithError(err)
	}()
	return r
}
