package manual

import (
	"strings"

	"headroom/daemon/config"
)

// SettingsPage is headroom.toml(5): every section and key of the config, from
// its schema.
func (p *Program) SettingsPage(schema []config.Section) string {
	var r roff
	p.head(&r, "HEADROOM.TOML", "5")
	r.line("SH", "NAME")
	r.WriteString("headroom.toml \\- settings of headroom\n")
	r.line("SH", "DESCRIPTION")
	r.text(`The settings are a file in TOML, named by -config; the installed service reads /etc/headroom/config.toml.
What a file does not say holds as it stands below, for the invented machine of the demo. Values with a unit are texts, such as "100 psi" or "60 °C", and any unit of the quantity may be used.`)
	r.WriteString(".PP\n" + bold("headroom config") + " prints all of this as a file to copy, and " +
		bold("headroom check") + " names every mistake of a file with its line and the mend.\n")
	r.line("SH", "SETTINGS")
	for i := range schema {
		section(&r, &schema[i])
	}
	r.line("SH", "CAVEATS")
	r.text(caution)
	r.line("SH", "SEE ALSO")
	r.WriteString(".BR headroom (1)\n")
	return r.String()
}

func section(r *roff, s *config.Section) {
	if s.Group != "" {
		group(r, s.Group)
	}
	switch {
	case s.Array:
		r.line("SS", "[["+s.Name+"]]")
	case s.Name != "":
		r.line("SS", "["+s.Name+"]")
	default:
		r.line("SS", "Before any section")
	}
	r.text(s.Doc)
	if s.Terse { // the group's words hold
		r.literal(lines(s)...)
		return
	}
	for i := range s.Keys {
		key(r, &s.Keys[i])
	}
}

// lines are a section's keys as they stand in a file.
func lines(s *config.Section) (all []string) {
	for i := range s.Keys {
		k := &s.Keys[i]
		line := k.Name + " = " + k.Default
		if k.Default == "" {
			line = "# " + k.Name + " = " + k.Example
		}
		if k.Why != "" {
			line += "  # " + k.Why
		}
		all = append(all, line)
	}
	return all
}

// group writes what holds for several sections; its lines that begin with a
// blank are "  name  meaning".
func group(r *roff, text string) {
	title, rest, _ := strings.Cut(text, ":")
	r.line("SS", title)
	for i, l := range strings.Split(strings.TrimSpace(rest), "\n") {
		name, meaning, isEntry := entry(l)
		switch {
		case isEntry:
			r.item(bold(name))
			r.text(meaning)
		case i > 0:
			r.WriteString(".PP\n")
			r.text(l)
		default:
			r.text(sentence(l))
		}
	}
}

func entry(l string) (name, meaning string, ok bool) {
	if !strings.HasPrefix(l, " ") {
		return "", "", false
	}
	name, meaning, ok = strings.Cut(strings.TrimSpace(l), "  ")
	return name, strings.TrimSpace(meaning), ok
}

func key(r *roff, k *config.Key) {
	value, note := k.Default, ""
	if value == "" {
		value, note = k.Example, "Not set unless it is written; this is an example. "
	}
	r.item(bold(k.Name) + " = " + escape(value))
	r.text(strings.TrimSpace(note + k.Doc + " " + sentence(k.Form()) + " " + sentence(k.Why)))
}
