package config

import (
	"math"
	"os"
	"strings"
	"testing"
)

// FuzzParse: no file makes Parse panic, every problem has its place inside the
// file, what is accepted is fit for the engine, and a file never changes what
// the next one gets.
func FuzzParse(f *testing.F) {
	f.Add(string(defaultTOML))
	for _, pattern := range []string{"bad", "good"} {
		entries, err := os.ReadDir("../../testdata/config/" + pattern)
		if err != nil {
			f.Fatal(err)
		}
		for _, e := range entries {
			if data, err := os.ReadFile("../../testdata/config/" + pattern + "/" + e.Name()); err == nil && strings.HasSuffix(e.Name(), ".toml") {
				f.Add(string(data))
			}
		}
	}
	for _, s := range []string{"[[[", "a.b.c = 1", "x = [[[{a={}}]]]", "csv.column = [{}, 3, {name=1}]", "\"\" = 1", "machine.npsh_required = 3",
		"csv = 1\n[csv]", "[csv]\ncolumn = []\n[[csv.column]]\n", "a = \"\"\"\n", "\xff = 1", "[rules]\ninlet_low = {on = true, warn = nan}"} {
		f.Add(s)
	}
	want := Default()
	f.Fuzz(func(t *testing.T, text string) {
		cfg, problems := Parse("f", []byte(text))
		lines := strings.Count(text, "\n") + 1
		for _, p := range problems {
			if p.Line < 1 || p.Line > lines || p.Column < 1 || p.Message == "" {
				t.Fatalf("problem without a place or words: %+v in %d lines", p, lines)
			}
		}
		if len(Mistakes(problems)) == 0 {
			if err := cfg.Engine.Validate(); err != nil {
				t.Fatalf("accepted, but the engine refuses: %v", err)
			}
			for r := range cfg.Engine.Rules {
				l := &cfg.Engine.Rules[r]
				if x := l.Warn + l.Act + l.Span + l.Deadband; math.IsNaN(x) || math.IsInf(x, 0) {
					t.Fatalf("accepted, but rule %d has %v", r, l)
				}
			}
		}
		if len(text)%16 != 0 {
			return // reading the defaults again costs as much as all above
		}
		if again := Default(); again.Engine != want.Engine {
			t.Fatal("a file changed the defaults")
		}
	})
}

func BenchmarkParseDefault(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		Parse("x", defaultTOML)
	}
}

// BenchmarkParseWreck reads the largest files that hold nothing but mistakes:
// none may take longer than a person waits.
func BenchmarkParseWreck(b *testing.B) {
	for name, line := range map[string]string{
		"unknown-keys": "a = 1\n", "inline": "", "faults": "a\n", "headers": "[[csv.column]]\n", "open-lists": "a = [\n", "tables": "[a.b]\n",
	} {
		text := []byte(strings.Repeat(line, maxFile/max(len(line), 1)))
		if name == "inline" {
			text = []byte("x = [" + strings.Repeat("{b=1},", maxFile/6-2) + "]")
		}
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				Parse("x", text)
			}
		})
	}
}
