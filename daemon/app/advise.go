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

// twice are flags that may be given twice.
var twice = []string{"flowing"}

// Topics lists the questions with their fields.
func (a adviser) Topics() (out []dashboard.AdviceTopic) {
	for _, t := range advise.Topics() {
		fs := flag.NewFlagSet(t.Name, flag.ContinueOnError)
		t.Bind(fs)
		topic := dashboard.AdviceTopic{Name: t.Name, Help: t.Help}
		fs.VisitAll(func(f *flag.Flag) {
			if slices.Contains(notAsked, f.Name) {
				return
			}
			_, usage := flag.UnquoteUsage(f)
			field := dashboard.AdviceField{Name: f.Name, Label: label(f.Name), Help: help(usage), Default: f.DefValue, Times: 1}
			if slices.Contains(twice, f.Name) {
				field.Times = 2
			}
			topic.Fields = append(topic.Fields, field)
		})
		// What the question is about comes first, then what only refines it.
		slices.SortStableFunc(topic.Fields, func(x, y dashboard.AdviceField) int { return place(t.Args, x.Name) - place(t.Args, y.Name) })
		out = append(out, topic)
	}
	return out
}

// place is where a topic's usage names a flag; behind all others if it doesn't.
func place(args, name string) int {
	if at := strings.Index(args+" ", "-"+name+" "); at >= 0 {
		return at
	}
	return len(args) + 1
}

// label is a flag's name as a page writes it.
func label(name string) string {
	words := strings.ReplaceAll(name, "-", " ")
	return strings.ToUpper(words[:1]) + words[1:]
}

// help is a flag's usage as a sentence.
func help(usage string) string {
	if usage == "" {
		return ""
	}
	return strings.ToUpper(usage[:1]) + strings.TrimSuffix(usage[1:], ".") + "."
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
		for _, text := range texts {
			if text = strings.TrimSpace(text); text == "" || slices.Contains(notAsked, field) {
				continue
			}
			if err := fs.Set(field, text); err != nil {
				return dashboard.Advice{}, fmt.Errorf("cannot use %q for %s: %w", text, label(field), err)
			}
		}
	}
	got, err := f.AnswerFor(a.cfg, sys)
	if err != nil {
		return dashboard.Advice{}, errors.New(forPage(fs, err.Error()))
	}
	return dashboard.Advice{
		Verdict: got.Verdict, Headline: got.Headline, Text: got.Text, Table: got.Table, Help: got.Help, Notes: got.Notes, Caution: advise.Caution,
	}, nil
}

// typedFlag is a flag in an error's words, with the value that is proposed.
var typedFlag = regexp.MustCompile(`-([a-z]+(?:-[a-z]+)*)(?: "([^"]*)")?`)

// forPage puts an error of the command line in the words of the page.
func forPage(fs *flag.FlagSet, text string) string {
	return typedFlag.ReplaceAllStringFunc(text, func(m string) string {
		parts := typedFlag.FindStringSubmatch(m)
		switch {
		case fs.Lookup(parts[1]) == nil:
			return m
		case parts[2] != "":
			return parts[2]
		}
		return "“" + label(parts[1]) + "”"
	})
}
