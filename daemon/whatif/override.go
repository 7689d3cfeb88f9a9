package whatif

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

var (
	settingKey = regexp.MustCompile(`^[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)+$`)
	tableLine  = regexp.MustCompile(`^\s*\[\s*([a-z0-9_.]+)\s*\]\s*(#.*)?$`)
	anyTable   = regexp.MustCompile(`^\s*\[`)
)

// Setting is one changed value, such as rules.inlet_low.act = "10 psi".
type Setting struct {
	// Section and Key name it, Value is written as in the file, or bare.
	Section, Key, Value string
}

// ParseSetting reads "section.key=value". The error names the mend.
func ParseSetting(s string) (Setting, error) {
	name, value, ok := strings.Cut(s, "=")
	name, value = strings.TrimSpace(name), strings.TrimSpace(value)
	if !ok || value == "" || !settingKey.MatchString(name) || strings.ContainsAny(value, "\r\n") {
		return Setting{}, fmt.Errorf("cannot change %q: write section.key=value, for example rules.inlet_low.act=10psi", s)
	}
	at := strings.LastIndexByte(name, '.')
	return Setting{name[:at], name[at+1:], value}, nil
}

// Name returns section and key.
func (s *Setting) Name() string { return s.Section + "." + s.Key }

// Apply changes settings in the text of a configuration and leaves every other
// line as it is. A key that isn't there is added to its section, and a section
// that isn't there to the end. Whether key and value make sense is for the
// config's own reader to say. The error means that the text gives the key over
// several lines, which this does not take apart.
func Apply(text []byte, settings []Setting) ([]byte, error) {
	lines := strings.Split(strings.TrimRight(string(text), "\n"), "\n")
	for i := range settings {
		var err error
		if lines, err = apply(lines, &settings[i]); err != nil {
			return nil, err
		}
	}
	return []byte(strings.Join(lines, "\n") + "\n"), nil
}

func apply(lines []string, s *Setting) ([]string, error) {
	line := s.Key + " = " + quoted(s.Value)
	in, last := false, -1
	for i, l := range lines {
		if m := tableLine.FindStringSubmatch(l); m != nil {
			if in = m[1] == s.Section; in {
				last = i
			}
			continue
		}
		if anyTable.MatchString(l) && !strings.Contains(l, "=") {
			in = false // a list of tables
			continue
		}
		key, value, ok := strings.Cut(l, "=")
		if !in || !ok || strings.TrimSpace(key) != s.Key {
			continue
		}
		if v := strings.TrimSpace(value); strings.HasPrefix(v, "[") && !strings.Contains(v, "]") || strings.HasPrefix(v, `"""`) {
			return nil, fmt.Errorf("cannot change %s: it stands over several lines; give a whole file with -config", s.Name())
		}
		out := append([]string(nil), lines...)
		out[i] = line
		return out, nil
	}
	if last < 0 {
		return append(lines, "", "["+s.Section+"]", line), nil
	}
	out := append([]string(nil), lines[:last+1]...)
	return append(append(out, line), lines[last+1:]...), nil
}

// quoted writes a value as the file wants it: numbers, switches, lists and what
// is in quotes stay, everything else is a text.
func quoted(v string) string {
	if v == "true" || v == "false" || v[0] == '[' || v[0] == '"' || v[0] == '\'' {
		return v
	}
	if _, err := strconv.ParseFloat(v, 64); err == nil {
		return v
	}
	return strconv.Quote(v)
}
