// Package head is the head of a capture: the settings in force when it was made, so that an analysis reads the capture
// as live did. Of makes one, Config reads it; a head that no program of ours writes is refused.
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
	var h capture.Head
	add := func(key, value string) { h = append(h, capture.Field{Key: key, Value: value}) }
	put := func(key string, v any) {
		b, err := json.Marshal(v)
		if err != nil {
			panic("evendraw: internal error: " + err.Error())
		}
		add(key, string(b))
	}
	date := func(key string, t time.Time) {
		if !t.IsZero() {
			add(key, t.UTC().Format(time.RFC3339))
		}
	}
	add(keyProgram, "evendraw "+version)
	date(Recorded, now)
	if bike != "" {
		add(Bike, bike)
	}
	if a != nil {
		add(keyBoard, a.Serial)
		put(keySensors, cfg.Setup.KindNames(len(a.Channels)))
	}
	if cfg.Bank != nil {
		put(keyBank, cfg.Bank)
	}
	if len(cfg.Setup.Gains) > 0 {
		put(keyGains, cfg.Setup.Gains)
	}
	if len(cfg.MatchUncertainty) > 0 {
		put(keyGainsOff, cfg.MatchUncertainty)
	}
	date(keyZeroedAt, cfg.ZeroedAt)
	date(keyMatchedAt, cfg.MatchedAt)
	put(keyReference, max(cfg.Reference, 1))
	put(keyAim, cfg.Aim)
	put(keySupply, cfg.Setup.SupplyMV)
	put(keyOffsets, cfg.Setup.Offsets)
	put(keyAmbient, cfg.Ambient)
	add(keyFrom, string(cfg.AmbientFrom))
	put(keyZeroed, cfg.Zeroed)
	return h
}

// wrong is the error of a key that can't be as it is.
func wrong(key, problem string) error { return &capture.Error{Problem: "head " + key + ": " + problem} }

// Config returns the settings that a capture was made with; ok is false when its head doesn't hold them.
func Config(h capture.Head) (cfg session.Config, ok bool, err error) {
	if h.Get(keyAmbient) == "" {
		return cfg, false, nil
	}
	read := func(key string, into any) {
		if v := h.Get(key); v != "" && err == nil {
			if e := json.Unmarshal([]byte(v), into); e != nil {
				err = wrong(key, e.Error())
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
				err = wrong(keyBank, e.Error())
			}
		}
	}
	for _, name := range names {
		k, e := sensor.ParseKind(name)
		if e != nil && err == nil {
			err = wrong(keySensors, e.Error())
		}
		cfg.Setup.Kinds = append(cfg.Setup.Kinds, k)
	}
	if err == nil {
		err = checkHead(&cfg)
	}
	if err == nil && !(cfg.Ambient > 0) {
		err = wrong(keyAmbient, strconv.Quote(h.Get(keyAmbient))+" is no pressure")
	}
	cfg.Setup.Ambient = cfg.Ambient
	return cfg, true, err
}

// checkHead refuses settings that no program of ours writes.
func checkHead(cfg *session.Config) error {
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

// readTime reads a time of a head; one that is missing or wrong is left unknown.
func readTime(h capture.Head, key string, into *time.Time) {
	if t, err := time.Parse(time.RFC3339, h.Get(key)); err == nil {
		*into = t
	}
}

// mostOffset bounds the pressures in a head, kPa. Chosen: an atmosphere.
const mostOffset = 100
