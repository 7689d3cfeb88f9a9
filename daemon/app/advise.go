package app

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"

	"headroom/daemon/advise"
	"headroom/daemon/config"
	"headroom/dashboard"
	"headroom/rules/units"
)

// adviser answers the dashboard's questions before the start for the machine
// of a config, with the words of the advise command. It implements
// dashboard.Adviser.
type adviser struct{ cfg *config.Config }

// notAsked are flags of the command line that a page has other ways for.
var notAsked = []string{"config", "json", "units"}

// kinds are the page's words for the command's.
var kinds = [...]dashboard.AdviceKind{
	advise.Measure: dashboard.AdviceMeasure, advise.Reading: dashboard.AdviceReading,
	advise.Count: dashboard.AdviceCount, advise.Choice: dashboard.AdviceChoice,
}

// Topics lists the questions with their fields.
func (a adviser) Topics() (out []dashboard.AdviceTopic) {
	for _, t := range advise.Topics() {
		topic := dashboard.AdviceTopic{Name: t.Name, Help: t.Help}
		for _, f := range t.Fields() {
			topic.Fields = append(topic.Fields, dashboard.AdviceField{
				Name: f.Name, Label: f.Label, Help: f.Help, Kind: kinds[f.Kind], Quantity: f.Quantity, Unit: f.Unit, Choices: f.Choices,
				Needed: f.Needed, Without: f.Without, Fallback: f.Fallback, Times: f.Times,
			})
		}
		out = append(out, topic)
	}
	return out
}

// label is a field as the page writes it; ok is false for a name that the topic
// doesn't have.
func label(t advise.Topic, name string) (text string, ok bool) {
	for _, f := range t.Fields() {
		if f.Name == name {
			return f.Label, true
		}
	}
	return name, false
}

// Advise answers a topic. What is unknown or can't be read is an error that
// names the field as the page does.
func (a adviser) Advise(name string, values map[string][]string, sys units.System) (dashboard.Advice, error) {
	t, ok := advise.Find(name)
	if !ok {
		return dashboard.Advice{}, fmt.Errorf("there is no question %q", name)
	}
	fs := flag.NewFlagSet(name, flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	f := t.Bind(fs)
	for field, texts := range values {
		labelled, _ := label(t, field)
		for _, text := range texts {
			if text = strings.TrimSpace(text); text == "" || slices.Contains(notAsked, field) {
				continue
			}
			if err := fs.Set(field, text); err != nil {
				return dashboard.Advice{}, fmt.Errorf("cannot use %q for %s: %w", text, labelled, err)
			}
		}
	}
	got, err := f.AnswerFor(a.cfg, sys)
	if err != nil {
		return dashboard.Advice{}, errors.New(forPage(t, err.Error()))
	}
	for i, h := range got.Help {
		got.Help[i] = forPage(t, h)
	}
	return dashboard.Advice{
		Verdict: got.Verdict, Headline: got.Headline, Text: got.Text, Table: got.Table, Help: got.Help, Notes: got.Notes, Caution: advise.Caution,
	}, nil
}

// typedFlag is a flag in an error's words, with the value that is proposed.
var typedFlag = regexp.MustCompile(`-([a-z]+(?:-[a-z]+)*)(?: "([^"]*)")?`)

// forPage puts an error of the command line in the words of the page.
func forPage(t advise.Topic, text string) string {
	return typedFlag.ReplaceAllStringFunc(text, func(m string) string {
		parts := typedFlag.FindStringSubmatch(m)
		name, ok := label(t, parts[1])
		switch {
		case !ok:
			return m
		case parts[2] != "":
			return parts[2]
		}
		return "“" + name + "”"
	})
}
