// Package head is the head of a capture: the settings in force when it was made, so that an
// analysis reads the capture as live did. Of makes one, Config reads it; a head that no program of
// ours writes is refused.
package head

import (
	"encoding/json"
	"strconv"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
)

// Keys of a capture's head.
const (
	keyProgram   = "program"
	Recorded     = "recorded"
	Bike         = "bike"
	keyBoard     = "board"
	keyBank      = "bank"
	keyReference = "reference"
	keyAim       = "aim_kpa"
	keySensors   = "sensors"
	keySupply    = "supply_mv"
	keyOffsets   = "offsets_kpa"
	keyAmbient   = "ambient_kpa"
	keyFrom      = "ambient_from"
	keyZeroed    = "zeroed"
	keyGains     = "gains"
	keyGainsOff  = "gains_uncertainty"
	keyZeroedAt  = "zeroed_at"
	keyMatchedAt = "matched_at"
)

// Of returns the head of a capture that this version of the program makes with these settings.
func Of(cfg *session.Config, a *frame.Announcement, version, bike string, now time.Time) capture.Head {
	value := func(v any) string {
		b, err := json.Marshal(v)
		if err != nil {
			panic("evendraw: internal error: " + err.Error())
		}
		return string(b)
	}
	h := capture.Head{
		{Key: keyProgram, Value: "evendraw " + version},
		{Key: Recorded, Value: now.UTC().Format(time.RFC3339)},
	}
	if bike != "" {
		h = append(h, capture.Field{Key: Bike, Value: bike})
	}
	if a != nil {
		h = append(h, capture.Field{Key: keyBoard, Value: a.Serial},
			capture.Field{Key: keySensors, Value: value(cfg.Setup.KindNames(len(a.Channels)))})
	}
	if cfg.Bank != nil {
		h = append(h, capture.Field{Key: keyBank, Value: value(cfg.Bank)})
	}
	h = append(h, rigHead(cfg, value)...)
	return append(h,
		capture.Field{Key: keyReference, Value: value(max(cfg.Reference, 1))},
		capture.Field{Key: keyAim, Value: value(cfg.Aim)},
		capture.Field{Key: keySupply, Value: value(cfg.Setup.SupplyMV)},
		capture.Field{Key: keyOffsets, Value: value(cfg.Setup.Offsets)},
		capture.Field{Key: keyAmbient, Value: value(cfg.Ambient)},
		capture.Field{Key: keyFrom, Value: string(cfg.AmbientFrom)},
		capture.Field{Key: keyZeroed, Value: value(cfg.Zeroed)},
	)
}

// Config returns the settings that a capture was made with; ok is false
// when its head doesn't hold them.
func Config(h capture.Head) (cfg session.Config, ok bool, err error) {
	if h.Get(keyAmbient) == "" {
		return cfg, false, nil
	}
	read := func(key string, into any) {
		if v := h.Get(key); v != "" && err == nil {
			if e := json.Unmarshal([]byte(v), into); e != nil {
				err = &capture.Error{Problem: "head " + key + ": " + e.Error()}
			}
		}
	}
	var names []string
	read(keyReference, &cfg.Reference)
	read(keyAim, &cfg.Aim)
	read(keySensors, &names)
	read(keySupply, &cfg.Setup.SupplyMV)
	read(keyOffsets, &cfg.Setup.Offsets)
	read(keyAmbient, &cfg.Ambient)
	read(keyZeroed, &cfg.Zeroed)
	read(keyGains, &cfg.Setup.Gains)
	read(keyGainsOff, &cfg.MatchUncertainty)
	readTime(h, keyZeroedAt, &cfg.ZeroedAt)
	readTime(h, keyMatchedAt, &cfg.MatchedAt)
	cfg.AmbientFrom = session.AmbientFrom(h.Get(keyFrom))
	if h.Get(keyBank) != "" {
		cfg.Bank = &bank.Bank{}
		read(keyBank, cfg.Bank)
		if err == nil {
			if e := cfg.Bank.Check(); e != nil {
				err = &capture.Error{Problem: "head " + keyBank + ": " + e.Error()}
			}
		}
	}
	for _, name := range names {
		k, e := sensor.ParseKind(name)
		if e != nil && err == nil {
			err = &capture.Error{Problem: "head " + keySensors + ": " + e.Error()}
		}
		cfg.Setup.Kinds = append(cfg.Setup.Kinds, k)
	}
	if err == nil {
		err = checkHead(&cfg)
	}
	if err == nil && !(cfg.Ambient > 0) {
		err = &capture.Error{Problem: "head " + keyAmbient + ": " + strconv.Quote(h.Get(keyAmbient)) +
			" is no pressure"}
	}
	cfg.Setup.Ambient = cfg.Ambient
	return cfg, true, err
}

// checkHead refuses settings that no program of ours writes.
func checkHead(cfg *session.Config) error {
	wrong := func(key, problem string) error { return &capture.Error{Problem: "head " + key + ": " + problem} }
	if len(cfg.Setup.Offsets) > sensor.MaxChannels || len(cfg.Setup.Kinds) > sensor.MaxChannels {
		return wrong(keyOffsets, "more channels than a board has")
	}
	if len(cfg.Setup.Gains) > sensor.MaxChannels {
		return wrong(keyGains, "more channels than a board has")
	}
	for _, g := range cfg.Setup.Gains {
		if !(g > leastGain && g < mostGain) {
			return wrong(keyGains, "no sensor is that far off")
		}
	}
	for _, o := range cfg.Setup.Offsets {
		if !(o > -mostOffset && o < mostOffset) {
			return wrong(keyOffsets, "no sensor is that far off")
		}
	}
	if cfg.Bank != nil && cfg.Reference > cfg.Bank.Cylinders || cfg.Reference < 0 {
		return wrong(keyReference, "there is no such cylinder")
	}
	if !(cfg.Aim >= 0 && cfg.Aim < mostOffset) || cfg.Setup.SupplyMV < 0 {
		return wrong(keyAim, "or "+keySupply+" makes no sense")
	}
	switch cfg.AmbientFrom {
	case session.FromZeroPass, session.FromUser, session.FromStandard:
		return nil
	}
	return wrong(keyFrom, strconv.Quote(string(cfg.AmbientFrom)))
}

// leastGain and mostGain bound the gains in a head. Chosen: as on a board's card.
const leastGain, mostGain = 0.5, 2

// rigHead returns the fields of the match pass, and when the passes were taken.
func rigHead(cfg *session.Config, value func(any) string) (h capture.Head) {
	if len(cfg.Setup.Gains) > 0 {
		h = append(h, capture.Field{Key: keyGains, Value: value(cfg.Setup.Gains)})
	}
	if len(cfg.MatchUncertainty) > 0 {
		h = append(h, capture.Field{Key: keyGainsOff, Value: value(cfg.MatchUncertainty)})
	}
	for _, f := range []struct {
		key string
		at  time.Time
	}{{keyZeroedAt, cfg.ZeroedAt}, {keyMatchedAt, cfg.MatchedAt}} {
		if !f.at.IsZero() {
			h = append(h, capture.Field{Key: f.key, Value: f.at.UTC().Format(time.RFC3339)})
		}
	}
	return h
}

// readTime reads a time of a head; one that is missing or wrong is left unknown.
func readTime(h capture.Head, key string, into *time.Time) {
	if t, err := time.Parse(time.RFC3339, h.Get(key)); err == nil {
		*into = t
	}
}

// mostOffset bounds the pressures in a head, kPa. Chosen: an atmosphere.
const mostOffset = 100
