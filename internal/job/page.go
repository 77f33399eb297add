package job

import (
	"evendraw/internal/hint"
	"evendraw/internal/page"
	"evendraw/internal/plain"
	"evendraw/internal/tell"
	"evendraw/internal/typing"
	"evendraw/internal/view"
)

// PageOptions say whether a page for phones is served, and where.
type PageOptions struct {
	Serve bool
	Addr  string // address and port to bind; "" is the usual
	Anew  bool   // with a new secret in the address: the old address leads nowhere
}

// openPage begins to serve the page, if one is asked for, and tells where.
func (l *live) openPage() (err error) {
	o := &l.opt.Page
	if !o.Serve {
		return nil
	}
	token, notKept := l.set.Garage.PageToken(page.GoodToken, page.NewToken(), o.Anew)
	l.page, err = page.Open(page.Options{Addr: o.Addr, Token: token, Listen: l.set.World.Listen})
	if err != nil {
		return hint.With(err, "is the port in use, or the address another machine's? --page without an address takes "+
			"a free port")
	}
	phone := l.page.Phone()
	tell.PageAddresses(l.std.Err, &phone, l.page.Moved(), notKept)
	if typing.IsTerminal(l.std.Err) {
		tell.PageCode(l.std.Err.(*plain.Writer).Unwrap(), &phone)
	}
	return nil
}

// closePage ends the page, and tells what went wrong with it: the job went on.
func (l *live) closePage() {
	if l.page != nil {
		l.page.Close()
		if err := l.page.Fault(); err != nil {
			l.std.Warn(err.Error())
		}
	}
}

// showPage shows a view to phones, and returns it with what is known of them.
func (l *live) showPage(v view.View) view.View {
	if l.page != nil {
		l.page.Show(v)
		phone := l.page.Phone()
		v.Phone = &phone
	}
	return v
}
