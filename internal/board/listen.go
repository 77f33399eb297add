package board

import "context"

// Listen opens the serial port at path at one rate, claims it for this process, and waits for nothing: Link.Board is
// nil. It is for looking at the bytes of a board that may not say what it is. Of opt only Dial counts. Errors are those
// of Open, but for Silent and Unreadable.
func Listen(ctx context.Context, path string, baud int, opt Options) (*Link, error) {
	if err := ctx.Err(); err != nil {
		return nil, cancelled(path, err)
	}
	return opt.dial(path, baud)
}
