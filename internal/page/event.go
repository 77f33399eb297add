package page

import (
	"encoding/json"
	"fmt"
	"strings"

	"evendraw/internal/view"
	"evendraw/internal/voice"
)

// roleNames and cueNames are what the page calls them.
var (
	roleNames = map[view.Role]string{view.Plain: "plain", view.Dim: "dim", view.Good: "good", view.Warn: "warn",
		view.Bad: "bad", view.Strong: "strong"}
	cueNames = map[voice.Cue]string{voice.CueNone: "", voice.CueGo: "go", voice.CueStop: "stop",
		voice.CueOther: "other", voice.CueLevel: "level", voice.CueFault: "fault"}
)

// event is a picture as the page gets it. Shares of a lane are rounded: what no eye sees is no change.
type event struct {
	Big    string   `json:"big"`
	Screw  string   `json:"screw"` // its name, where Big is a word for the hand that turns it
	Amount string   `json:"amount"`
	Way    int      `json:"way"`
	Role   string   `json:"role"`
	Say    []string `json:"say"`
	Head   []text   `json:"head"`
	Step   []text   `json:"step"`
	Foot   []text   `json:"foot"`
	Ends   []string `json:"ends"` // left, middle, right of the lanes
	Band   share    `json:"band"`
	Limit  share    `json:"limit"`
	Lanes  []lane   `json:"lanes"`
	Stale  bool     `json:"stale"`
	Voice  spoken   `json:"voice"`
}

type text struct {
	Text string `json:"text"`
	Role string `json:"role"`
}

type lane struct {
	Label      string `json:"label"`
	Draw       string `json:"draw"`
	Difference string `json:"difference"`
	At         share  `json:"at"`
	Half       share  `json:"half"`
	Shown      bool   `json:"shown"`
	Reference  bool   `json:"reference"`
	Fault      string `json:"fault"`
	Role       string `json:"role"`
}

type spoken struct {
	Number uint64 `json:"number"`
	Cue    string `json:"cue"`
	Way    int    `json:"way"`
	Text   string `json:"text"`
	Cut    bool   `json:"cut"`
}

// share is a place on a lane, -1 to 1, in thousandths.
type share float64

// MarshalJSON writes a share.
func (s share) MarshalJSON() ([]byte, error) { return fmt.Appendf(nil, "%.3f", float64(s)), nil }

func texts(in []view.Text) []text {
	out := make([]text, 0, len(in))
	for _, t := range in {
		out = append(out, text{t.Text, roleNames[t.Role]})
	}
	return out
}

// encode writes a picture and what is to be spoken as the data of an event.
func encode(p *view.Picture, u *voice.Utterance) []byte {
	e := event{Big: view.Between(p.Big), Screw: view.Between(p.Screw),
		Amount: strings.TrimSpace(p.Words.Way + " " + p.Amount), Way: p.Arrow,
		Role: roleNames[p.Role], Say: p.Say, Head: texts(p.Head),
		Step: texts(p.Step), Foot: texts(p.Foot), Ends: []string{p.Left, p.Middle, p.Right}, Band: share(p.Band),
		Limit: share(p.Limit), Lanes: []lane{}, Stale: p.Stale,
		Voice: spoken{u.Number, cueNames[u.Cue], u.Way, u.Text, u.Cut}}
	for _, l := range p.Lanes {
		e.Lanes = append(e.Lanes, lane{l.Label, l.Draw, l.Difference, share(l.At), share(l.Half), l.Shown, l.Reference,
			l.Fault, roleNames[l.Role]})
	}
	b, err := json.Marshal(&e)
	if err != nil {
		panic("page: internal error: " + err.Error())
	}
	return b
}
