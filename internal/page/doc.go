// Package page serves one page on the local network, for a phone or tablet that lies at the bike: the
// picture of the live screen, its words in large letters, tones and a voice.
//
// In: pictures of package view. Out: what a browser on the network shows and speaks. Begin with Open.
//
// Open listens; Show takes the newest view, and never waits for anybody. The page is one file,
// page.html, which holds all of its style and script. It hears of pictures by server-sent events
// (WHATWG HTML, 9.2): each browser is sent the newest one, at most twenty a second.
//
//	server.go     listens, answers, is shown views
//	guard.go      who is let in: names, token, methods, headers
//	http.go       what the page needs of HTTP
//	stream.go     who looks, and what each is sent
//	conns.go      how many connections there may be
//	addresses.go  under which addresses the page is reached, and the code to scan
//	event.go      a picture as JSON
//
// Nothing that a browser sends is kept, and nothing of it reaches the job: a request chooses one of
// three answers, page, live and seen.
package page
