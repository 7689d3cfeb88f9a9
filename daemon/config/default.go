package config

import (
	_ "embed"
	"fmt"
	"io"
	"strings"
)

// defaultTOML is written from the schema by writeDefault; a test keeps the two
// the same.
//
//go:embed default.toml
var defaultTOML []byte

// Default returns the config of the embedded default file: the invented
// machine, simulated.
func Default() *Config {
	c, _ := Parse("default.toml", defaultTOML)
	return c
}

// WriteDefault writes the commented default file, for a user to copy and
// change.
func WriteDefault(w io.Writer) error {
	if _, err := w.Write(defaultTOML); err != nil {
		return fmt.Errorf("cannot write the default config: %w", err)
	}
	return nil
}

const defaultIntro = `The settings of headroom, with every key and its default.

Copy this file, change what differs, and leave out the rest: what is not
written holds as it stands here. Only the plates (machine, motor, circuit,
cord, hoses, nozzle) are an invented machine's, and judge no real one: with
the simulator off such a figure is not set unless it is written, and the rules
that need it say so. Values with a unit are texts: "100 psi", "60 °C",
"7.6 L/min". "headroom check FILE" tells of every mistake and all that lacks.
headroom is an aid and no certified safety device. Local codes, the makers'
manuals and licensed practice come first.`

// writeDefault makes the default file from the schema.
func writeDefault() string {
	var b strings.Builder
	comment(&b, defaultIntro)
	schema := Schema()
	for i := range schema {
		writeSection(&b, &schema[i])
	}
	return b.String()
}

func writeSection(b *strings.Builder, s *Section) {
	b.WriteString("\n")
	if s.Group != "" {
		comment(b, s.Group)
		b.WriteString("\n")
	}
	if s.Doc != "" {
		comment(b, s.Doc)
	}
	switch {
	case s.Array:
		fmt.Fprintf(b, "# [[%s]]\n", s.Name)
	case s.Name != "":
		fmt.Fprintf(b, "[%s]\n", s.Name)
	}
	for i := range s.Keys {
		writeKey(b, s, &s.Keys[i])
	}
}

func writeKey(b *strings.Builder, s *Section, k *Key) {
	if !s.Terse {
		text := k.Doc
		if len(k.Choices) > 0 && k.Kind == Choice {
			text += ` One of "` + strings.Join(k.Choices, `", "`) + `".`
		}
		comment(b, text)
	}
	line := k.Name + " = " + k.Default
	if k.Default == "" {
		line = "# " + k.Name + " = " + k.Example
	}
	if k.Why != "" {
		line += "  # " + k.Why
	}
	b.WriteString(line + "\n")
}

// comment writes text as comment lines of at most 78 bytes. A line that begins
// with a blank is an entry of a list and hangs.
func comment(b *strings.Builder, text string) {
	for _, par := range strings.Split(text, "\n") {
		line, next := "# ", "# "
		if strings.HasPrefix(par, " ") {
			line, next, par = "#   ", "#                ", strings.TrimLeft(par, " ")
		}
		for _, w := range strings.SplitAfter(par, " ") {
			if len(line)+len(strings.TrimRight(w, " ")) > 78 && len(line) > len(next) {
				b.WriteString(strings.TrimRight(line, " ") + "\n")
				line = next
			}
			line += w
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}

// sentence makes a reason a sentence.
func sentence(text string) string {
	return strings.ToUpper(text[:1]) + text[1:] + "."
}
