package tell

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/capture"
	"evendraw/internal/garage"
	"evendraw/internal/head"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

type anyObject = map[string]any

// fits says what of a value is other than a schema has it: of JSON Schema, the keywords that ours is written with.
func fits(root, schema anyObject, v any, at string) (wrong []string) {
	if ref, ok := schema["$ref"].(string); ok {
		schema = root["$defs"].(anyObject)[strings.TrimPrefix(ref, "#/$defs/")].(anyObject)
	}
	say := func(format string, args ...any) { wrong = append(wrong, at+": "+fmt.Sprintf(format, args...)) }
	if words, ok := schema["enum"].([]any); ok && !slices.Contains(words, v) {
		say("%v is none of the words", v)
	}
	if want, ok := schema["const"]; ok && want != v {
		say("%v, not %v", v, want)
	}
	if want, ok := schema["type"]; ok && !isOf(want, v) {
		say("%v is no %v", v, want)
	}
	switch v := v.(type) {
	case anyObject:
		return append(wrong, fieldsFit(root, schema, v, at)...)
	case []any:
		for i := range v {
			wrong = append(wrong, fits(root, schema["items"].(anyObject), v[i], fmt.Sprintf("%s[%d]", at, i))...)
		}
	}
	return wrong
}

func fieldsFit(root, schema, v anyObject, at string) (wrong []string) {
	fields, _ := schema["properties"].(anyObject)
	other, _ := schema["additionalProperties"].(anyObject)
	for _, key := range slices.Sorted(maps.Keys(v)) {
		field, ok := fields[key].(anyObject)
		if !ok {
			field = other
		}
		if field == nil {
			wrong = append(wrong, at+"."+key+" is not in the schema")
			continue
		}
		wrong = append(wrong, fits(root, field, v[key], at+"."+key)...)
	}
	required, _ := schema["required"].([]any)
	for _, key := range required {
		if _, ok := v[key.(string)]; !ok {
			wrong = append(wrong, fmt.Sprintf("%s.%s is missing", at, key))
		}
	}
	return wrong
}

// isOf reports whether a value has a type, or one of several.
func isOf(want, v any) bool {
	if several, ok := want.([]any); ok {
		return slices.ContainsFunc(several, func(w any) bool { return isOf(w, v) })
	}
	switch v := v.(type) {
	case nil:
		return want == "null"
	case bool:
		return want == "boolean"
	case string:
		return want == "string"
	case float64:
		return want == "number" || want == "integer" && v == math.Trunc(v)
	case []any:
		return want == "array"
	}
	return want == "object"
}

// differ says which keys a schema has and a type has not, or the other way round, all the way down.
func differ(root, schema anyObject, of reflect.Type, at string) (wrong []string) {
	for of.Kind() == reflect.Pointer {
		of = of.Elem()
	}
	if ref, ok := schema["$ref"].(string); ok {
		schema = root["$defs"].(anyObject)[strings.TrimPrefix(ref, "#/$defs/")].(anyObject)
	}
	if either, ok := schema["anyOf"].([]any); ok { // it, or null
		schema = either[0].(anyObject)
		return differ(root, schema, of, at)
	}
	if of.Kind() == reflect.Slice {
		return differ(root, schema["items"].(anyObject), of.Elem(), at+"[]")
	}
	if of.Kind() != reflect.Struct || of == reflect.TypeFor[time.Time]() {
		return nil
	}
	fields := maps.Clone(schema["properties"].(anyObject))
	for i := range of.NumField() {
		name, _, _ := strings.Cut(of.Field(i).Tag.Get("json"), ",")
		field, ok := fields[name].(anyObject)
		delete(fields, name)
		switch {
		case name == "":
		case !ok:
			wrong = append(wrong, at+"."+name+" is not in the schema")
		default:
			wrong = append(wrong, differ(root, field, of.Field(i).Type, at+"."+name)...)
		}
	}
	for name := range fields {
		wrong = append(wrong, at+"."+name+" is of no field")
	}
	return wrong
}

// checkSchema holds a JSON text against a definition of the schema.
func checkSchema(t *testing.T, def string, text []byte) {
	t.Helper()
	var root anyObject
	var v any
	if err := json.Unmarshal(Schema, &root); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &v); err != nil {
		t.Fatalf("%v in %s", err, text)
	}
	for _, wrong := range fits(root, anyObject{"$ref": "#/$defs/" + def}, v, def) {
		t.Error(wrong)
	}
}

// What is printed has the keys, types and words of the schema.
func TestSchema(t *testing.T) {
	t.Parallel()
	for _, kind := range []advice.Kind{advice.Turn, advice.Wait} {
		r := reading(kind, advice.WhyUnlevel)
		checkSchema(t, "reading", ReadingJSON(r, session.Link{}, &session.Config{AmbientFrom: session.FromUser}, true))
		r.Span.Cycle, r.RPM = false, math.NaN()
		cfg := session.Config{AmbientFrom: session.FromStandard}
		checkSchema(t, "reading", ReadingJSON(r, session.Link{}, &cfg, false))
	}
	// Of a record in which nothing is known, and of one in which everything is.
	var whole garage.SyncRecord
	fill(reflect.ValueOf(&whole).Elem())
	for _, r := range []*garage.RecordReading{whole.Before, whole.After, whole.Raised} {
		r.Cylinders[0].State, r.Cylinders[0].Doubt = "ok", string(advice.WhyMisfires)
	}
	whole.Warmth, whole.Verdict = garage.WarmthSaid, garage.VerdictDone
	for _, rec := range []garage.SyncRecord{{Format: 1, Verdict: garage.VerdictDone}, whole} {
		text, err := json.Marshal(&rec)
		if err != nil {
			t.Fatal(err)
		}
		checkSchema(t, "record", text)
	}
	var line strings.Builder
	if err := garage.WriteJSONLines(&line, []garage.StoredSync{{Path: "x.level", Kept: whole}}); err != nil {
		t.Fatal(err)
	}
	checkSchema(t, "record", []byte(line.String()))
}

// fill puts something into every field: into lists one, into numbers 1; texts stay empty where words are expected.
func fill(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem())
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		fill(v.Index(0))
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				fill(v.Field(i))
			}
		}
	case reflect.Float64:
		v.SetFloat(1)
	case reflect.Int, reflect.Int64:
		v.SetInt(1)
	case reflect.Bool:
		v.SetBool(true)
	}
}

// The readings and the summary of a recorded cold start, in which states and advice change.
func TestSchemaOfACapture(t *testing.T) {
	t.Parallel()
	f, err := os.Open("../../testdata/captures/cold-start.cap.gz")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in, err := capture.Open(f)
	if err != nil {
		t.Fatal(err)
	}
	cfg, _, err := head.Config(in.Head)
	if err != nil {
		t.Fatal(err)
	}
	const each = 20 // a check costs a hundred times what a reading does
	n := 0
	sum := session.NewSummary(func() pressure.KPa { return cfg.Ambient })
	sess := session.New(cfg, session.Options{OnReading: func(rd *balance.Reading, c *session.Chain) {
		sum.Push(rd)
		if n++; n%each == 0 {
			cfg := c.Config()
			checkSchema(t, "reading", ReadingJSON(rd, c.Link(), &cfg, true))
		}
	}})
	if err := sess.Run(t.Context(), in.Bytes); err != nil || n < 2*each {
		t.Fatalf("%d readings, %v", n, err)
	}
	sum.Finish()
	sess.Chain(func(c *session.Chain) { checkSchema(t, "summary", SummaryJSON(sum, c)) })
}

// A record of every key, and the words of advice, are in the schema, and nothing else.
func TestSchemaIsWhole(t *testing.T) {
	t.Parallel()
	var root struct {
		Defs map[string]struct {
			Enum       []any
			Properties anyObject
		} `json:"$defs"`
	}
	if err := json.Unmarshal(Schema, &root); err != nil {
		t.Fatal(err)
	}
	var whole anyObject
	if err := json.Unmarshal(Schema, &whole); err != nil {
		t.Fatal(err)
	}
	record := anyObject{"$ref": "#/$defs/record"}
	for _, wrong := range differ(whole, record, reflect.TypeFor[garage.SyncRecord](), "record") {
		if wrong != "record.record is of no field" { // of an export alone
			t.Error(wrong)
		}
	}
	for def, c := range map[string]struct{ file, pattern, more string }{
		"kind":  {"../advice/advice.go", `(?m)^\t\w+ +Kind += "([^"]+)"`, "set-idle"},
		"why":   {"../advice/why.go", `(?m)^\tWhy\w+ +Why += "([^"]+)"`, "idle-speed"},
		"state": {"../cycle/cycle.go", `(?m)^\t\w+ +State += "([^"]+)"`, ""}} {
		text, err := os.ReadFile(c.file)
		if err != nil {
			t.Fatal(err)
		}
		var words, got []string
		for _, m := range regexp.MustCompile(c.pattern).FindAllSubmatch(text, -1) {
			words = append(words, string(m[1]))
		}
		if c.more != "" {
			words = append(words, c.more) // of the line alone: see stopWords
		}
		for _, w := range root.Defs[def].Enum {
			got = append(got, w.(string))
		}
		slices.Sort(words)
		slices.Sort(got)
		if !slices.Equal(words, got) {
			t.Errorf("%s: the words are %q, in the schema %q", def, words, got)
		}
	}
}

// A value that is other than the schema is found out.
func TestSchemaCanFail(t *testing.T) {
	t.Parallel()
	var root anyObject
	if err := json.Unmarshal(Schema, &root); err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{`{"kind":"shout","screw":null,"direction":null,"turns":null,"why":"level"}`,
		`{"kind":"turn","screw":null,"direction":null,"turns":"2","why":"level"}`,
		`{"kind":"turn","screw":null,"direction":null,"why":"level"}`,
		`{"kind":"turn","screw":null,"direction":null,"turns":1,"why":"level","who":1}`} {
		var v any
		if err := json.Unmarshal([]byte(text), &v); err != nil {
			t.Fatal(err)
		}
		if wrong := fits(root, anyObject{"$ref": "#/$defs/advice"}, v, "advice"); len(wrong) != 1 {
			t.Errorf("%s: %q", text, wrong)
		}
	}
}
